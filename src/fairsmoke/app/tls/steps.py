"""The one page that is served without TLS: how to trust this machine, and the certificate for it.

Nothing of the notebook is reached here. Whatever else is asked for is led to the address with TLS;
what somebody tries to send is refused.
"""

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Mount, Route

from fairsmoke.app.page import environment
from fairsmoke.app.security.headers import Headers
from fairsmoke.app.security.hosts import Hosts
from fairsmoke.app.security.rate_limiter import RequestLimits
from fairsmoke.app.settings import Settings
from fairsmoke.app.static_files import FOLDER, KeptFiles, static, version
from fairsmoke.app.tls.authority import Authority
from fairsmoke.messages.catalogue import preferred

CERTIFICATE = "/fairsmoke-authority.crt"


def steps_app(authority: Authority, settings: Settings, port: int) -> Starlette:
    """Return the app with that page; ``port`` is where the app itself is served over TLS."""

    def steps(request: Request) -> Response:
        if request.method not in ("GET", "HEAD"):
            return PlainTextResponse("Nothing can be sent without TLS.", 403)
        language = preferred(request.headers.get("accept-language", ""))
        html = (
            environment(language)
            .get_template("trust.html")
            .render(
                language=language,
                static=static,
                certificate=CERTIFICATE,
                fingerprint=authority.fingerprint,
                title=authority.title,
                names=sorted(authority.names),
                app=_over_tls(request, port, "/"),
            )
        )
        return HTMLResponse(html)

    def certificate(request: Request) -> Response:
        return Response(authority.root_pem, media_type="application/x-x509-ca-cert")

    def elsewhere(request: Request) -> Response:
        if request.method not in ("GET", "HEAD"):
            return PlainTextResponse("Nothing can be sent without TLS.", 403)
        query = f"?{request.url.query}" if request.url.query else ""
        return RedirectResponse(_over_tls(request, port, request.url.path) + query, 307)

    methods = ["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE"]
    return Starlette(
        routes=[
            Route("/", steps, methods=methods),
            Route(CERTIFICATE, certificate),
            Mount(f"/static/{version()}", KeptFiles(directory=FOLDER)),
            Route("/{rest:path}", elsewhere, methods=methods),
        ],
        middleware=[
            Middleware(Headers),
            Middleware(Hosts, names=settings.hosts),
            Middleware(RequestLimits, limits=settings.limits, larger=(), known=_nobody),
        ],
    )


async def _nobody(headers: dict[bytes, bytes]) -> bool:
    """Nobody signs in here, so nothing large is taken."""
    return False


def _over_tls(request: Request, port: int, path: str) -> str:
    host = request.url.hostname or "localhost"
    return f"https://{f'[{host}]' if ':' in host else host}:{port}{path}"
