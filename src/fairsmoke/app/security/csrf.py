"""Forged forms: what changes something carries a mark that only our own pages can know.

The mark is made from the visitor's cookie, which scripts cannot read and other sites do not know.
A form carries it in the field ``csrf``, a script in the header ``X-CSRF-Token``. Devices show a
token of their own instead of a cookie and need no mark.
"""

import hashlib
import hmac
from urllib.parse import urlsplit

from fastapi import Request

from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_

FIELD = "csrf"
HEADER = "X-CSRF-Token"
_SAFE = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})


def mark_for(cookie: str) -> str:
    """Return the mark of the visitor who has that cookie."""
    return hmac.new(cookie.encode(), b"fairsmoke form", hashlib.sha256).hexdigest()


async def checked(request: Request) -> None:
    """Raise AppError when a request that may change something was not made by our own pages."""
    if request.method in _SAFE or "authorization" in request.headers:
        return
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise _forged()
    origin = request.headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != request.headers.get("host"):
        raise _forged()
    cookie = request.cookies.get(request.app.state.cookie, "")
    given = request.headers.get(HEADER)
    if given is None and request.headers.get("content-type", "").startswith(
        ("application/x-www-form-urlencoded", "multipart/form-data")
    ):
        given = str((await request.form()).get(FIELD, ""))
    if not cookie or not hmac.compare_digest(mark_for(cookie).encode(), (given or "").encode()):
        raise _forged()


def _forged() -> AppError:
    message = N_("This form is out of date. Open the page again, then send it again.")
    return AppError(403, "form-mark", message)
