"""Secrets: made at random, kept only as digests; PINs kept so that guessing is slow."""

import base64
import hashlib
import hmac
import secrets

# About 60 ms and 16 MiB a try; 2**14, 8, 1 is what RFC 7914 calls an interactive login's cost
# (from memory).
_N, _R, _P = 2**14, 8, 1

PIN_DIGITS = (6, 12)
"""Fewest and most digits of a PIN."""


def new_token() -> str:
    """Return a secret of 256 random bits that fits into an address."""
    return secrets.token_urlsafe(32)


def digest_of(token: str) -> str:
    """Return what is kept of a token. It is too long to be guessed, so a plain digest will do."""
    return hashlib.sha256(token.encode()).hexdigest()


def is_pin(text: str) -> bool:
    """Tell whether a text can be a PIN."""
    return text.isascii() and text.isdigit() and PIN_DIGITS[0] <= len(text) <= PIN_DIGITS[1]


def kept_pin(pin: str) -> str:
    """Return what is kept of a PIN: settings, salt and hash in one text."""
    salt = secrets.token_bytes(16)
    return f"scrypt:{_N}:{_R}:{_P}:{_text(salt)}:{_text(_hash(pin, salt, _N, _R, _P))}"


def pin_is(pin: str, kept: str | None) -> bool:
    """Tell whether a PIN is the one kept; takes as long when there is none to compare with."""
    if kept is None:
        _hash(pin, b"nobody", _N, _R, _P)
        return False
    _, n, r, p, salt, expected = kept.split(":")
    found = _hash(pin, base64.b64decode(salt), int(n), int(r), int(p))
    return hmac.compare_digest(found, base64.b64decode(expected))


def _hash(pin: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    return hashlib.scrypt(pin.encode(), salt=salt, n=n, r=r, p=p, maxmem=64 * 2**20, dklen=32)


def _text(content: bytes) -> str:
    return base64.b64encode(content).decode()
