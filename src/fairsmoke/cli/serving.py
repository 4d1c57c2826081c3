"""Start the app at the pit: serve."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fairsmoke.cli.screen import DEFAULT_NOTEBOOK, NotebookOption, opened, say
from fairsmoke.jobs.errors import JobError

if TYPE_CHECKING:
    from fairsmoke.app.serving import Certificate, Started


def serve(
    which: Annotated[
        Path | None, typer.Argument(metavar="[NOTEBOOK]", help="The notebook's file.")
    ] = None,
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    listen: Annotated[
        str,
        typer.Option(help="The address to listen on; 0.0.0.0 lets phones on your network in."),
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="0: any that is free.")] = 8420,
    name: Annotated[
        list[str] | None,
        typer.Option(help="A name by which phones may call this machine; may be given again."),
    ] = None,
    start: Annotated[
        str, typer.Option(metavar="KITCHEN", help="Start the notebook first, for this kitchen.")
    ] = "",
    time_zone: Annotated[str, typer.Option(help="With --start: the time zone of its clocks.")] = "",
    certificate: Annotated[
        Path | None, typer.Option(help="Serve over TLS with this certificate (PEM).")
    ] = None,
    key: Annotated[Path | None, typer.Option(help="The certificate's key (PEM).")] = None,
) -> None:
    """Serve the app at the pit, until Ctrl-C."""
    from fairsmoke.app.serving import serve as run
    from fairsmoke.app.settings import Settings

    path = which or notebook
    tls = _certificate(certificate, key)
    _check_address(listen)
    if start:
        _start(path, start, time_zone)
    settings = Settings(path, hosts=tuple(name or ()), secure=tls is not None)
    with opened(path) as book:
        run(
            book,
            settings,
            listen=listen,
            port=port,
            certificate=tls,
            tell=lambda started: _tell(started, path, listen),
        )
    say("Stopped.")


def _certificate(certificate: Path | None, key: Path | None) -> "Certificate | None":
    from fairsmoke.app.serving import Certificate

    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        raise JobError("TLS needs both --certificate and --key")
    for file in (certificate, key):
        if not file.is_file():
            raise JobError(f"there is no file {file}")
    return Certificate(certificate, key)


def _check_address(listen: str) -> None:
    import ipaddress

    try:
        ipaddress.ip_address(listen)
    except ValueError as error:
        raise JobError(f"--listen {listen!r}: write an address, such as 0.0.0.0") from error


def _start(path: Path, kitchen: str, time_zone: str) -> None:
    from fairsmoke.notebook import Notebook
    from fairsmoke.trial.kitchen import Kitchen

    if not time_zone:
        raise JobError("--start needs --time-zone, such as Europe/London")
    Notebook.create(path, Kitchen(name=kitchen, time_zone=time_zone)).close()
    say(f"Started {path}.")


def _tell(started: "Started", path: Path, listen: str) -> None:
    import ipaddress

    from fairsmoke.app.qr import qr_terminal

    say(f"{path} is served at {started.address}")
    say(f"Sign in as {started.person.name} (works once, for an hour):")
    say(started.link)
    if ipaddress.ip_address(listen).is_loopback:
        say("Only this machine can reach it. For a phone: --listen 0.0.0.0")
    else:
        say(qr_terminal(started.link))
    say("Ctrl-C stops it.")
