"""What makes the app installable and lets it open without a connection."""

import json

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.page import OnPage
from fairsmoke.app.static_files import shell, static, version

router = APIRouter()


@router.get("/app.webmanifest", name="manifest")
def manifest(page: OnPage) -> Response:
    """Describe the app to the phone's home screen."""
    content = {
        "id": "/",
        "name": "Fairsmoke",
        "short_name": "Fairsmoke",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#17130f",
        "theme_color": "#17130f",
        "icons": [
            {"src": static("icons/icon.svg"), "type": "image/svg+xml", "sizes": "any"},
            *(
                {
                    "src": static(f"icons/icon-{size}.png"),
                    "type": "image/png",
                    "sizes": f"{size}x{size}",
                    "purpose": purpose,
                }
                for size in (192, 512)
                for purpose in ("any", "maskable")
            ),
        ],
    }
    headers = {"Cache-Control": "no-cache"}
    return Response(json.dumps(content), media_type="application/manifest+json", headers=headers)


@router.get("/worker.js", name="worker")
def worker() -> Response:
    """Give the service worker; it stands at the root because it may only serve what lies below."""
    kept = json.dumps([*shell(), "/waiting"])
    code = (
        f'import {{ serve }} from "{static("js/worker.js")}";\n'
        f"serve({json.dumps(version())}, {kept});\n"
    )
    headers = {"Cache-Control": "no-cache"}
    return Response(code, media_type="text/javascript", headers=headers)


@router.get("/waiting", name="waiting")
def waiting(page: OnPage) -> HTMLResponse:
    """Show what waits on this phone; also what opens when there is no connection.

    It names nobody and nothing of the notebook, because every phone keeps it.
    """
    return page.show("waiting.html")


@router.get("/favicon.ico", include_in_schema=False)
def favicon() -> RedirectResponse:
    """Lead a browser that asks by itself to the icon."""
    return RedirectResponse(static("icons/icon-192.png"), 307)
