"""What a running app is told: its notebook, where it listens, and its limits."""

from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from fairsmoke.answers.store import usual_folder
from fairsmoke.arriving.broker import Broker

LOOPBACK = "127.0.0.1"
PORT = 8420
MEGABYTE = 1_000_000


@dataclass(frozen=True)
class IntakeLimits:
    """How much of what is taken, and how often.

    ``per_client`` requests from one address; ``sign_ins`` tries at signing in, from one address
    and for one name; both in the notation of the library ``limits``. Bytes for the rest:
    ``stranger`` from whoever is not signed in, ``form`` for a page's form without files.
    """

    per_client: str = "6000 per minute"
    sign_ins: str = "10 per 15 minutes"
    stranger: int = 16_000
    form: int = 256_000
    body: int = MEGABYTE
    photo: int = 12 * MEGABYTE
    upload: int = 64 * MEGABYTE


@dataclass(frozen=True)
class Settings:
    """Everything that is decided before the app starts.

    ``hosts`` are names, besides numbers and ``localhost``, by which it may be called;
    ``secure`` when it is served over TLS; ``steps`` is then the address, without TLS, of the page
    that says how a phone is made to trust this machine, if there is need of one. ``watch`` is a
    folder of logger files that grow; ``broker`` the one that was given when it was started.
    ``results`` is where findings, simulations and scripts are kept, all of which can be made again.
    """

    notebook: Path
    hosts: tuple[str, ...] = ()
    secure: bool = False
    steps: str = ""
    limits: IntakeLimits = field(default_factory=IntakeLimits)
    session: timedelta = timedelta(days=30)
    link: timedelta = timedelta(hours=1)
    watch: Path | None = None
    broker: Broker | None = None
    results: Path = field(default_factory=usual_folder)
