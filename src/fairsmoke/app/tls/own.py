"""Serving over TLS with this machine's own authority, and the page beside it that says how."""

import contextlib
import ipaddress
import logging
import os
import socket
import ssl
import tempfile
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from fairsmoke.app.settings import Settings
from fairsmoke.app.tls.authority import Authority, authority_in, server_pem
from fairsmoke.app.tls.reach import Address, own_addresses, own_name
from fairsmoke.app.tls.steps import steps_app
from fairsmoke.messages.errors import JobError


@dataclass(frozen=True)
class OwnTls:
    """The authority, and the hosts that it vouches for this time."""

    authority: Authority
    hosts: tuple[str | Address, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Return the hosts that are names."""
        return tuple(host for host in self.hosts if isinstance(host, str))

    def context(self) -> ssl.SSLContext:
        """Return what a server needs, with a key that is made now and kept in memory only."""
        made = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        # The standard library takes keys from files only.
        descriptor, name = tempfile.mkstemp()
        try:
            with os.fdopen(descriptor, "wb") as file:
                file.write(server_pem(self.authority, self.hosts))
            made.load_cert_chain(name)
        finally:
            Path(name).unlink()
        return made


def own_tls(folder: Path, listen: str, names: Sequence[str]) -> OwnTls:
    """Return the TLS of this machine for what it listens on; the first time an authority is made.

    ``names`` are those given by the person, besides the machine's own. Raises JobError when the
    authority cannot be had or does not vouch for a name.
    """
    given = tuple(name.lower() for name in names)
    authority = authority_in(folder, {own_name(), *given}, own_name().removesuffix(".local"))
    for name in given:
        if not authority.vouches_for(name):
            raise JobError(
                f"this machine's authority was made for {', '.join(sorted(authority.names))}, "
                f"not for {name!r}; leave the name out, or remove {authority.file} and start "
                "again: a new one is made, which each phone must trust anew"
            )
    address = ipaddress.ip_address(listen)
    addresses = own_addresses() if address.is_unspecified else (address,)
    wanted: tuple[str | Address, ...] = (*given, own_name(), "localhost", *addresses)
    # A public address, or the machine's name when it was changed since.
    return OwnTls(authority, tuple(filter(authority.vouches_for, dict.fromkeys(wanted))))


@contextlib.contextmanager
def steps_beside(
    own: OwnTls, settings: Settings, listening: socket.socket, port: int
) -> Iterator[None]:
    """Serve the page with the steps, on a socket of its own, as long as the app is served."""
    config = uvicorn.Config(
        steps_app(own.authority, settings, port),
        log_level=logging.WARNING,
        access_log=False,
        proxy_headers=False,
        server_header=False,
        lifespan="off",
        timeout_graceful_shutdown=1,
    )
    server = uvicorn.Server(config)
    # Beside the main thread no signal reaches it; it ends with the app.
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(5)
