"""CSRF protection: a request that may change something carries a token of its session.

The CSRF token is derived from the session cookie (HMAC-SHA-256), which scripts cannot read and
other sites do not know. A form carries it in the field ``csrf``, a script in the header
``X-CSRF-Token``. Devices authenticate with a bearer token instead of a cookie and need none.
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


def csrf_token_for(cookie: str) -> str:
    """Return the CSRF token that belongs to a session cookie."""
    return hmac.new(cookie.encode(), b"fairsmoke form", hashlib.sha256).hexdigest()


async def check_csrf_token(request: Request) -> None:
    """Raise AppError for a state-changing request without the CSRF token of its session."""
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
    if not cookie or not hmac.compare_digest(
        csrf_token_for(cookie).encode(), (given or "").encode()
    ):
        raise _forged()


def _forged() -> AppError:
    message = N_("This form is out of date. Open the page again, then send it again.")
    return AppError(403, "form-mark", message)
