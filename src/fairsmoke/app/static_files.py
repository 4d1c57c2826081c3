"""Static files under an address that changes with their content, so that they are kept for good."""

import hashlib
from functools import cache
from pathlib import Path

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

FOLDER = Path(__file__).parent / "static"


@cache
def version() -> str:
    """Return a name for the present content of all static files."""
    digest = hashlib.sha256()
    for path in sorted(FOLDER.rglob("*")):
        if path.is_file():
            digest.update(str(path.relative_to(FOLDER)).encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def static(path: str) -> str:
    """Return the address of a static file.

    Raises FileNotFoundError when there is none: a template that names it is wrong.
    """
    if not (FOLDER / path).is_file():
        raise FileNotFoundError(FOLDER / path)
    return f"/static/{version()}/{path}"


def shell() -> list[str]:
    """Return the addresses of all that the app needs to open without a connection."""
    names = sorted(
        str(path.relative_to(FOLDER))
        for path in FOLDER.rglob("*")
        if path.suffix in (".css", ".js", ".svg")
    )
    return [static(name) for name in names]


class KeptFiles(StaticFiles):
    """Static files that a browser need not ask for again."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with a file."""
        response = await super().get_response(path, scope)
        if response.status_code == 200:
            response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        return response
