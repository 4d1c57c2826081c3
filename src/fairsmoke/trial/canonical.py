"""The one text of plain data that a digest is taken over: JSON as RFC 8785 writes it.

The rules (the JSON Canonicalization Scheme, RFC 8785, section 3.2): no spaces; keys sorted by the
UTF-16 units of their letters; numbers as ECMAScript writes them; in texts only what must be
escaped is. Libraries in many languages write the same text.
"""

import hashlib
import json
import math
from decimal import Decimal
from typing import Any

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_

LARGEST_WHOLE = 2**53 - 1
"""The largest whole number that every reader of JSON keeps (RFC 7493, section 2.2)."""


def canonical_form(content: Any) -> str:
    """Return the one text of plain data (dictionaries, lists, texts, numbers, truths, None).

    Raises ValueError for what has no such text: no finite number, a whole number beyond
    ``LARGEST_WHOLE``, half of a letter.

    >>> canonical_form({"b": 1.0, "a": [0.5, "°C", None]})
    '{"a":[0.5,"°C",null],"b":1}'
    """
    text = "".join(_parts(content))
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise InputError(N_("half of a letter (a lone surrogate) stands in a text")) from error
    return text


def digest_of(canonical: str) -> str:
    """Return the SHA-256 of that text in UTF-8, as 64 hexadecimal digits (FIPS 180-4).

    It is what ``sha256sum`` prints of a file that holds the text and nothing behind it.
    """
    return hashlib.sha256(canonical.encode()).hexdigest()


def _parts(content: Any) -> list[str]:
    if isinstance(content, dict):
        keys = sorted(content, key=lambda key: str(key).encode("utf-16-be", "surrogatepass"))
        members = [f"{_text(str(key))}:{canonical_form(content[key])}" for key in keys]
        return ["{", ",".join(members), "}"]
    if isinstance(content, list | tuple):
        return ["[", ",".join(canonical_form(one) for one in content), "]"]
    if content is None:
        return ["null"]
    if isinstance(content, bool):
        return ["true" if content else "false"]
    if isinstance(content, int | float):
        return [_number(content)]
    if isinstance(content, str):
        return [_text(content)]
    raise InputError(N_("%(name)s is nothing that JSON can hold", name=type(content).__name__))


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _number(value: float) -> str:
    """Write a number as ECMAScript does (ECMA-262, Number::toString): shortest, then its form."""
    if isinstance(value, int) and abs(value) > LARGEST_WHOLE:
        raise InputError(
            N_(
                "%(value)s is too large a whole number: at most %(largest_whole)s",
                value=value,
                largest_whole=LARGEST_WHOLE,
            )
        )
    if not math.isfinite(value):
        raise InputError(N_("%(value)s is no number that JSON can hold", value=value))
    if value == 0:
        return "0"
    # Both choose the fewest digits that read back; only the form differs.
    sign, digits, exponent = Decimal(repr(float(value))).normalize().as_tuple()
    assert isinstance(exponent, int)
    shown = "".join(map(str, digits))
    point = len(shown) + exponent
    minus = "-" if sign else ""
    if len(shown) <= point <= 21:
        return f"{minus}{shown}{'0' * (point - len(shown))}"
    if 0 < point <= 21:
        return f"{minus}{shown[:point]}.{shown[point:]}"
    if -6 < point <= 0:
        return f"{minus}0.{'0' * -point}{shown}"
    tail = f".{shown[1:]}" if len(shown) > 1 else ""
    return f"{minus}{shown[0]}{tail}e{'+' if point > 0 else '-'}{abs(point - 1)}"
