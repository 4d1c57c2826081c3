"""The one text of plain data that a digest is taken over: JSON as RFC 8785 writes it.

The JSON Canonicalization Scheme: no spaces; keys sorted by the UTF-16 units of their letters;
numbers as ECMAScript writes them; in texts only what must be escaped is. Libraries in many
languages write the same text; the one used here is ``rfc8785``.
"""

import hashlib
from typing import Any

import rfc8785

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
    try:
        return rfc8785.dumps(content).decode()
    except rfc8785.IntegerDomainError as error:
        message = N_(
            "a whole number is too large for JSON: at most %(largest)s", largest=LARGEST_WHOLE
        )
        raise InputError(message) from error
    except rfc8785.FloatDomainError as error:
        raise InputError(N_("JSON can hold finite numbers only")) from error
    except (UnicodeEncodeError, rfc8785.CanonicalizationError) as error:
        message = N_("JSON cannot hold this: %(error)s", error=str(error))
        raise InputError(message) from error


def digest_of(canonical: str) -> str:
    """Return the SHA-256 of that text in UTF-8, as 64 hexadecimal digits (FIPS 180-4).

    It is what ``sha256sum`` prints of a file that holds the text and nothing behind it.
    """
    return hashlib.sha256(canonical.encode()).hexdigest()
