"""What every command shares: the screen, the exit codes, and which notebook and trial is meant."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_, Words

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from fairsmoke.notebook import Notebook
    from fairsmoke.quantity import Units
    from fairsmoke.telling.reader import Reader

DONE = 0
CANNOT = 1
"""Something in the data, a file or the notebook has to be mended first."""
MISUSED = 2
"""The command was written wrongly."""
NEEDS_ANSWER = 3
"""A question came up that only a person can answer, and nobody is at the keyboard."""
STOPPED = 130
"""What shells use for a command that was stopped by Ctrl-C."""

# Names and files may hold what looks like markup or an emoji; everything is shown as it is.
out = Console(soft_wrap=False, highlight=False, markup=False, emoji=False)
err = Console(stderr=True, highlight=False, markup=False, emoji=False)

DEFAULT_NOTEBOOK = Path("kitchen.fairsmoke")

NotebookOption = Annotated[
    Path,
    typer.Option(
        "--notebook",
        "-n",
        envvar="FAIRSMOKE_NOTEBOOK",
        help=T_("The notebook's file."),
        show_default=True,
    ),
]
TrialOption = Annotated[
    str, typer.Option("--trial", "-t", help=T_("Which trial; may be left out when there is one."))
]
JsonOption = Annotated[bool, typer.Option("--json", help=T_("Answer as JSON, for other programs."))]
DetailsOption = Annotated[
    bool, typer.Option("--details", help=T_("What the answer rests on, too."))
]
WhyOption = Annotated[str, typer.Option("--why", help=T_("The reason; it is kept in the history."))]
ByOption = Annotated[str, typer.Option("--by", help=T_("Who does it; it is kept in the history."))]


def language_here() -> str:
    """Return the language of this shell: FAIRSMOKE_LANGUAGE, else what the system's locale says."""
    from fairsmoke.messages.catalogue import preferred

    wanted = os.environ.get("FAIRSMOKE_LANGUAGE", "")
    for name in ("LC_ALL", "LC_MESSAGES", "LANG"):
        wanted = wanted or os.environ.get(name, "")
    return preferred(wanted.replace("_", "-").partition(".")[0])


def reader_here(units: "Units | None" = None, zone: "ZoneInfo | None" = None) -> "Reader":
    """Return who reads this shell: its language, a 24-hour clock, and the units asked for."""
    from zoneinfo import ZoneInfo

    from fairsmoke.quantity import METRIC
    from fairsmoke.telling.reader import Reader

    return Reader(units or METRIC, language_here(), "24", zone or ZoneInfo("UTC"), face="shell")


def stopped(what: Words) -> typer.Exit:
    """Say that a run was stopped and what of it is kept; return the exit to raise."""
    complain(N_("Stopped: %(what)s", what=what))
    complain(N_("The same command goes on from there."))
    return typer.Exit(STOPPED)


@contextmanager
def opened(path: Path) -> Iterator["Notebook"]:
    """Open a notebook that must exist; raises JobError that says how to come by one."""
    from fairsmoke.notebook import Notebook

    if not path.exists():
        raise JobError(
            N_(
                "there is no notebook %(path)s; name yours with -n, or start one with "
                "'fairsmoke read FOLDER' or 'fairsmoke start'",
                path=path,
            )
        )

    with Notebook.open(path) as notebook:
        yield notebook


def trial_meant(notebook: "Notebook", given: str) -> str:
    """Return the handle of the trial that is meant.

    Raises JobError when there is none, or several and none was named.
    """
    known = [trial.id for trial in notebook.trials()]
    if given:
        if given not in known:
            raise JobError(
                N_(
                    "there is no trial '%(given)s'; known: %(known)s",
                    given=given,
                    known=", ".join(known) or N_("none"),
                )
            )
        return given
    if not known:
        raise JobError(
            N_("this notebook has no trial yet; read one in with 'fairsmoke read FOLDER'")
        )
    if len(known) > 1:
        raise JobError(N_("say which trial with --trial (-t): %(known)s", known=", ".join(known)))
    return known[0]


def owner_of(notebook: "Notebook", kind: str, trial: str) -> str:
    """Return the trial that a kind of record belongs to, "" for the kitchen's own.

    Raises NotebookError when a notebook keeps no such kind.
    """
    from fairsmoke.notebook.kinds import kind_of

    if not kind_of(kind).of_trial:
        if trial:
            raise JobError(
                N_("a %(kind)s belongs to the whole notebook; leave --trial out", kind=kind)
            )
        return ""
    return trial_meant(notebook, trial)


def show_json(content: Any) -> None:
    """Print JSON and nothing else on standard output."""
    sys.stdout.write(json.dumps(content, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def said(words: Words) -> str:
    """Return words in this shell's language."""
    return words if isinstance(words, str) else reader_here().say(words)


def say(words: Words = "") -> None:
    """Print a line; the terminal breaks it where it must, so that paths stay whole."""
    out.print(said(words), soft_wrap=True)


def complain(words: Words) -> None:
    """Print a line on the error stream."""
    err.print(said(words), soft_wrap=True)


def table(*headers: Words, title: Words = "") -> Table:
    """Return an empty table in our look."""
    made = Table(title=said(title) or None, title_justify="left", title_style="bold", box=None)
    for header in headers:
        made.add_column(said(header), header_style="dim", overflow="fold")
    return made


def prompted(question: Words, **options: Any) -> str:
    """Ask at the keyboard, in this shell's language; return what was written."""
    return str(typer.prompt(said(question), **options))


def pairs(given: list[str], what: Words) -> dict[str, str]:
    """Read ``KEY=VALUE`` arguments. Raises JobError for one without an equals sign."""
    found: dict[str, str] = {}
    for text in given:
        key, equals, value = text.partition("=")
        if not equals or not key.strip():
            raise JobError(N_("%(what)s %(given)r: write it as KEY=VALUE", what=what, given=text))
        found[key.strip()] = value.strip()
    return found


def at_keyboard() -> bool:
    """Tell whether a person can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def tell_recorded(notebook: Path, trial: str = "") -> None:
    """Say that a trial was recorded and what comes next, or that nothing was."""
    following = f"fairsmoke draw -t {trial}{notebook_option(notebook)}"
    recorded = N_("Recorded. Next: %(command)s", command=following)
    say(reader_here().say(recorded if trial else N_("Nothing was recorded.")))


def notebook_option(notebook: Path) -> str:
    """Return the option that names a notebook in a command that is proposed."""
    return "" if notebook == DEFAULT_NOTEBOOK else f" -n {notebook}"


def say_more(told: bool) -> None:
    """Say how to have the rest of an answer, where it was not told."""
    if not told:
        say(N_("What it rests on, and how to read it: the same again with --details."))
