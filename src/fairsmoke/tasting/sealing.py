"""The key of a blind tasting, sealed until the ballots are closed.

What lies in the notebook is a ciphertext and a commitment; the secret that opens it is kept apart
from the notebook's file, so that a copy, an export or a look into the file tells nothing. The
commitment shows afterwards that what was opened is what was sealed.

What it does not protect against: whoever plated the samples knows them, and so does whoever holds
both the notebook and the secret.
"""

import base64
import hashlib
import hmac
import json
import secrets
from dataclasses import asdict, dataclass

from cryptography.fernet import Fernet, InvalidToken

from fairsmoke.tasting.errors import TastingError
from fairsmoke.tasting.session import Cup, Session, TasterSet

_BLOCK = 4096
"""The sealed text is padded to whole blocks: its length does not tell how names are spelled."""


@dataclass(frozen=True, slots=True)
class SealedKey:
    """A sealed key: ``text`` is the ciphertext, ``commitment`` a SHA-256 over content and salt."""

    text: str
    commitment: str


def new_secret() -> str:
    """Return a new secret for one tasting: 256 random bits as text."""
    return base64.urlsafe_b64encode(secrets.token_bytes(32)).decode()


def new_seed() -> int:
    """Return a seed that nobody can guess, for the draw of a blind tasting."""
    return secrets.randbits(52)


def seal(session: Session, secret: str) -> SealedKey:
    """Seal what each code is.

    Raises:
        TastingError: a secret that is none of `new_secret`.

    """
    salt = secrets.token_hex(16)
    content = json.dumps({"salt": salt, "session": asdict(session)}, sort_keys=True).encode()
    padded = content + b" " * (-len(content) % _BLOCK)
    return SealedKey(_cipher(secret).encrypt(padded).decode(), _commitment(content))


def unseal(sealed: SealedKey, secret: str) -> Session:
    """Return what was sealed.

    Raises:
        TastingError: the secret is another one, or the sealed key was changed since.

    """
    try:
        content = _cipher(secret).decrypt(sealed.text.encode()).rstrip(b" ")
    except InvalidToken as error:
        raise TastingError(
            "the key does not open: it was sealed with another secret, or changed since"
        ) from error
    if not hmac.compare_digest(_commitment(content), sealed.commitment):
        raise TastingError("the key opens, but is not the one that was sealed at the draw")
    read = json.loads(content)["session"]
    sets = tuple(
        TasterSet(one["taster"], one["number"], tuple(Cup(**cup) for cup in one["cups"]))
        for one in read["sets"]
    )
    return Session(read["seed"], sets, read["algorithm"])


def _commitment(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _cipher(secret: str) -> Fernet:
    try:
        return Fernet(secret.encode())
    except ValueError as error:
        raise TastingError("that is no secret of a tasting: it was cut off or mistyped") from error
