"""Running the app: its socket, its addresses, the first sign-in, a clean stop."""

import asyncio.constants
import contextlib
import ipaddress
import logging
import socket
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import uvicorn

from fairsmoke.app.factory import create_app
from fairsmoke.app.people import register, sessions
from fairsmoke.app.people.person import Person
from fairsmoke.app.security.connections import HEAD_S, guarded
from fairsmoke.app.security.log_limit import limit_logs
from fairsmoke.app.settings import Settings
from fairsmoke.app.tls.own import OwnTls, steps_beside
from fairsmoke.app.tls.reach import is_local
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook

_STOP_WITHIN_S = 5
"""How long open pages may keep the app from stopping."""

_KEEP_ALIVE_S = 75
"""How long a connection is kept: a device that posts every minute need not connect anew."""

_FILES = 4096
"""Files and connections that the app may have open, where the system allows as many."""

_SWITCH_S = 0.001
"""How long one thread of ours computes before another may: Python's own is five times that."""


@dataclass(frozen=True)
class Certificate:
    """A certificate and its key, as files, to serve over TLS."""

    certificate: Path
    key: Path


@dataclass(frozen=True)
class Started:
    """What is told when the app listens.

    ``steps`` is the address of the page that says how to trust this machine, and ``fingerprint``
    that of the certificate; both are empty where there is no need of it.
    """

    address: str
    link: str
    person: Person
    steps: str = ""
    fingerprint: str = ""


def bound(listen: str, port: int) -> socket.socket:
    """Return a socket that is bound; raises JobError that says what is in the way."""
    family = socket.AF_INET6 if ":" in listen else socket.AF_INET
    # The protocol by its number: asyncio sends small answers at once (TCP_NODELAY) only where it
    # stands, and each answer to a kept connection took 40 ms without.
    made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((listen, port))
    except OSError as error:
        made.close()
        raise JobError(
            f"cannot listen on {listen}, port {port} ({error.strerror}); "
            "choose another with --port or --listen"
        ) from error
    return made


def phone_host(listen: str) -> str:
    """Return the host by which a phone reaches what listens there.

    For all addresses that is the one that this machine uses on its network. Nothing is sent to
    find it: connecting a datagram socket only asks the system's own table of routes.
    """
    address = ipaddress.ip_address(listen)
    if not address.is_unspecified:
        return f"[{listen}]" if address.version == 6 else listen
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # An address set aside for documentation (RFC 5737): it is nobody's.
        probe.connect(("192.0.2.1", 9))
        return str(probe.getsockname()[0])
    return "127.0.0.1"


def serve(
    book: Notebook,
    settings: Settings,
    *,
    listen: str,
    port: int,
    tell: Callable[[Started], None],
    certificate: Certificate | None = None,
    own: OwnTls | None = None,
) -> None:
    """Serve a notebook until it is told to stop; ``tell`` is called when it listens.

    Over TLS with a ``certificate`` of the person's, or with this machine's ``own``; then one page
    without TLS says how to trust it. Raises JobError when the address cannot be had.
    """
    with contextlib.ExitStack() as stack:
        listening = stack.enter_context(contextlib.closing(bound(listen, port)))
        port = listening.getsockname()[1]
        host = phone_host(listen)
        address = f"{'https' if certificate or own else 'http'}://{host}:{port}"
        steps = ""
        if own:
            _check_local(host)
            beside = stack.enter_context(contextlib.closing(_bound_beside(listen, port)))
            steps = f"http://{host}:{beside.getsockname()[1]}"
        settings = replace(
            settings,
            secure=bool(certificate or own),
            steps=steps,
            hosts=(*settings.hosts, *(own.names if own else ())),
        )
        app = create_app(settings, book, public=address)
        with book.transaction() as transaction:
            person = register.first_cook(transaction)
            token = sessions.make_link(transaction, person, settings.link)
        link = address + str(app.url_path_for("enter", token=token))
        config = uvicorn.Config(
            app,
            http=guarded(),
            ws="none",
            log_level=logging.WARNING,
            access_log=False,
            proxy_headers=False,
            server_header=False,
            timeout_graceful_shutdown=_STOP_WITHIN_S,
            timeout_keep_alive=_KEEP_ALIVE_S,
            ssl_certfile=certificate.certificate if certificate else None,
            ssl_keyfile=certificate.key if certificate else None,
            ssl_context_factory=(lambda _config, _usual: own.context()) if own else None,
        )
        # Pages and the writer run in threads beside the loop that answers: it must not wait long
        # for one that computes to let it go on.
        sys.setswitchinterval(_SWITCH_S)
        _make_room()
        limit_logs()
        listening.listen(128)
        if own:
            beside.listen(16)
            stack.enter_context(steps_beside(own, settings, beside, port))
        tell(Started(address, link, person, steps, own.authority.fingerprint if own else ""))
        # Ctrl-C is how it is meant to stop; the server has stopped cleanly when it comes through.
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[listening])


def _make_room() -> None:
    """Let connections fail before the files of the notebook do."""
    # Half a handshake holds a file as half a request does; uvicorn has no option for it.
    asyncio.constants.SSL_HANDSHAKE_TIMEOUT = HEAD_S
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = _FILES if hard == resource.RLIM_INFINITY else min(_FILES, hard)
        if soft != resource.RLIM_INFINITY and soft < wanted:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def _check_local(host: str) -> None:
    if not is_local(ipaddress.ip_address(host.strip("[]"))):
        raise JobError(
            f"{host} is not an address of a local network, and this machine's own authority "
            "vouches for those only; give a certificate with --certificate and --key"
        )


def _bound_beside(listen: str, port: int) -> socket.socket:
    """Return a socket for the page with the steps: the next port, or any that is free."""
    try:
        return bound(listen, port + 1)
    except (JobError, OverflowError):
        return bound(listen, 0)
