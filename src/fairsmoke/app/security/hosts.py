"""Only requests meant for this machine: a defence against rebound names.

A page elsewhere can make its own name point at an address of the local network and then talk to
what listens there as if it were itself. It cannot do so with a number, nor with our own names.
"""

import ipaddress
from collections.abc import Collection

from starlette.types import ASGIApp, Receive, Scope, Send

from fairsmoke.app.security.headers import refusal


def host_of(header: str) -> str:
    """Return the host of a Host header, without its port."""
    text = header.strip().lower()
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.rpartition(":")[0] if ":" in text else text


def is_ours(host: str, names: Collection[str]) -> bool:
    """Tell whether a host is a number, this machine, or one of the names that were given."""
    if host == "localhost" or host in names:
        return True
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


class Hosts:
    """ASGI middleware that turns away what was meant for another host."""

    def __init__(self, app: ASGIApp, names: Collection[str]) -> None:
        self.app = app
        self.names = frozenset(name.lower() for name in names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] in ("http", "websocket"):
            given = dict(scope["headers"]).get(b"host", b"").decode("latin-1")
            if not is_ours(host_of(given), self.names):
                message = "This address is not one of this app's; start it with --name to allow it."
                await refusal(scope["path"], 400, "host", message)(scope, receive, send)
                return
        await self.app(scope, receive, send)
