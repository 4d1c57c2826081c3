"""Start the app at the pit: serve."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fairsmoke.cli.screen import DEFAULT_NOTEBOOK, NotebookOption, opened, say
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_

if TYPE_CHECKING:
    from fairsmoke.app.serving import Certificate, Started
    from fairsmoke.app.tls.own import OwnTls
    from fairsmoke.arriving.broker import Broker


def serve(
    which: Annotated[
        Path | None, typer.Argument(metavar="[NOTEBOOK]", help=T_("The notebook's file."))
    ] = None,
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    listen: Annotated[
        str,
        typer.Option(help=T_("The address to listen on; 0.0.0.0 lets phones on your network in.")),
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help=T_("0: any that is free."))] = 8420,
    name: Annotated[
        list[str] | None,
        typer.Option(help=T_("A name by which phones may call this machine; may be given again.")),
    ] = None,
    start: Annotated[
        str, typer.Option(metavar="KITCHEN", help=T_("Start the notebook first, for this kitchen."))
    ] = "",
    time_zone: Annotated[
        str, typer.Option(help=T_("With --start: the time zone of its clocks."))
    ] = "",
    certificate: Annotated[
        Path | None, typer.Option(help=T_("Serve over TLS with this certificate (PEM)."))
    ] = None,
    key: Annotated[Path | None, typer.Option(help=T_("The certificate's key (PEM)."))] = None,
    watch: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help=T_("Read logger files that grow in this folder.")),
    ] = None,
    mqtt: Annotated[
        str, typer.Option(metavar="HOST[:PORT]", help=T_("The broker from which readings come."))
    ] = "",
    mqtt_user: Annotated[str, typer.Option(help=T_("The user at the broker."))] = "",
    mqtt_password_file: Annotated[
        Path | None, typer.Option(help=T_("A file that holds the password at the broker."))
    ] = None,
    mqtt_tls: Annotated[bool, typer.Option("--mqtt-tls", help=T_("Talk to it encrypted."))] = False,
    mqtt_authority: Annotated[
        Path | None,
        typer.Option(help=T_("With TLS: certificates to trust (PEM), when not the system's.")),
    ] = None,
    mqtt_topic: Annotated[str, typer.Option(help=T_("Where topics begin."))] = "fairsmoke",
    authority: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            envvar="FAIRSMOKE_AUTHORITY",
            help=T_("Where this machine's own certificate authority is kept."),
        ),
    ] = None,
    plain_http: Annotated[
        bool,
        typer.Option(
            help=T_(
                "Without TLS beyond this machine: anybody on the network can read along, and "
                "phones cannot open the app without a connection."
            )
        ),
    ] = False,
) -> None:
    """Serve the app at the pit, until Ctrl-C."""
    from fairsmoke.app.serving import serve as run
    from fairsmoke.app.settings import Settings

    path = which or notebook
    tls = _certificate(certificate, key)
    _check_address(listen)
    if start:
        _start(path, start, time_zone)
    if watch is not None and not watch.is_dir():
        raise JobError(N_("--watch %(watch)s: there is no such folder", watch=watch))
    broker = _broker(
        mqtt, mqtt_user, mqtt_password_file, mqtt_tls, mqtt_authority, mqtt_topic.strip("/")
    )
    settings = Settings(
        path,
        hosts=tuple(name or ()),
        watch=watch.resolve() if watch else None,
        broker=broker,
    )
    need = tls is None and not plain_http and not _only_here(listen)
    with opened(path) as book:
        run(
            book,
            settings,
            listen=listen,
            port=port,
            certificate=tls,
            own=_own(authority, listen, settings.hosts) if need else None,
            tell=lambda started: _tell(started, path, listen),
        )
    say(N_("Stopped."))


def _certificate(certificate: Path | None, key: Path | None) -> "Certificate | None":
    from fairsmoke.app.serving import Certificate

    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        raise JobError(N_("TLS needs both --certificate and --key"))
    for file in (certificate, key):
        if not file.is_file():
            raise JobError(N_("there is no file %(file)s", file=file))
    return Certificate(certificate, key)


def _broker(
    address: str,
    user: str,
    password_file: Path | None,
    tls: bool,
    authority: Path | None,
    topic: str,
) -> "Broker | None":
    from fairsmoke.arriving.broker import PORT, TLS_PORT, Broker

    if not address:
        if user or password_file or tls or authority:
            raise JobError(N_("the --mqtt-… options need --mqtt HOST"))
        return None
    host, _, port = address.rpartition(":") if address.count(":") == 1 else (address, "", "")
    if not host or (port and not (port.isdigit() and 0 < int(port) < 65536)):
        raise JobError(
            N_(
                "--mqtt %(address)r: write HOST or HOST:PORT, such as 192.168.0.10:1883",
                address=address,
            )
        )
    for file in (password_file, authority):
        if file is not None and not file.is_file():
            raise JobError(N_("there is no file %(file)s", file=file))
    # In a file, because the command line is there for everybody on the machine to see.
    password = password_file.read_text(encoding="utf-8").strip("\r\n") if password_file else ""
    usual = TLS_PORT if tls else PORT
    return Broker(host, int(port) if port else usual, user, password, tls, topic, authority)


def _own(folder: Path | None, listen: str, names: tuple[str, ...]) -> "OwnTls":
    from fairsmoke.app.tls.authority import default_folder
    from fairsmoke.app.tls.own import own_tls

    return own_tls(folder or default_folder(), listen, names)


def _only_here(listen: str) -> bool:
    import ipaddress

    return ipaddress.ip_address(listen).is_loopback


def _check_address(listen: str) -> None:
    import ipaddress

    try:
        ipaddress.ip_address(listen)
    except ValueError as error:
        raise JobError(
            N_("--listen %(listen)r: write an address, such as 0.0.0.0", listen=listen)
        ) from error


def _start(path: Path, kitchen: str, time_zone: str) -> None:
    from fairsmoke.notebook import Notebook
    from fairsmoke.trial.kitchen import Kitchen

    if not time_zone:
        raise JobError(N_("--start needs --time-zone, such as Europe/London"))
    Notebook.create(path, Kitchen(name=kitchen, time_zone=time_zone)).close()
    say(N_("Started %(path)s.", path=path))


def _tell(started: "Started", path: Path, listen: str) -> None:
    from fairsmoke.app.tls.reach import qr_terminal

    say(N_("%(path)s is served at %(address)s", path=path, address=started.address))
    if started.steps:
        say(
            N_(
                "Once on each phone: open %(steps)s and follow the steps there.",
                steps=started.steps,
            )
        )
        say(qr_terminal(started.steps))
        say(N_("The certificate that the phone shows must have this SHA-256:"))
        say(started.fingerprint)
    say(N_("Sign in as %(person)s (works once, for an hour):", person=started.person.name))
    say(started.link)
    if _only_here(listen):
        say(N_("Only this machine can reach it. For a phone: --listen 0.0.0.0"))
    else:
        say(qr_terminal(started.link))
    if not _only_here(listen) and started.address.startswith("http:"):
        say(N_("Without TLS: anybody on the network can read along."))
    say(N_("Ctrl-C stops it."))
