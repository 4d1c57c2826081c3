"""Judge a trial and tell of it: ``demo``, ``judge``, ``tell``."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    opened,
    say,
    show_json,
    trial_meant,
)
from fairsmoke.messages.message import T_

if TYPE_CHECKING:
    from fairsmoke.judging.finding import Finding
    from fairsmoke.quantity import Units

Paper = Literal["a4", "us-letter"]
PaperOption = Annotated[Paper, typer.Option(help=T_("The size of the report's pages."))]
UnitsOption = Annotated[
    Literal["metric", "us"] | None,
    typer.Option(help=T_("°C and kg, or °F and lb; otherwise as the notebook says.")),
]


def demo(
    folder: Annotated[Path, typer.Option("--out", help=T_("Where to put the demo."))] = Path(
        "fairsmoke-demo"
    ),
    paper: PaperOption = "a4",
    as_json: JsonOption = False,
    tonight: Annotated[
        Path | None,
        typer.Option(
            metavar="NOTEBOOK", help=T_("Make only a notebook whose last night is running now.")
        ),
    ] = None,
) -> None:
    """Record, judge and tell the invented demo trial, in a folder of its own."""
    if tonight is not None:
        _make_tonight(tonight)
        return
    from fairsmoke.answers.demonstration import demonstrate
    from fairsmoke.telling.as_json import finding_json
    from fairsmoke.telling.text import finding_text

    made = demonstrate(folder, paper=paper)
    if as_json:
        show_json(finding_json(made.finding))
        return
    say(finding_text(made.finding))
    say()
    say(f"The report is {made.report}, the record as open files {made.folder}.")
    look = f"fairsmoke show -n {made.notebook}"
    say(f"To look further: .venv/bin/{look}")


def _make_tonight(path: Path) -> None:
    from datetime import UTC, datetime

    from fairsmoke.answers.demonstration_tonight import make_tonight

    make_tonight(path, datetime.now(UTC))
    say(f"Made {path}, in which the last night of the invented trial is running now.")
    say(f"To look at it: fairsmoke serve {path}")


def judge(
    which: Annotated[str, typer.Argument(help=T_("Which trial."), metavar="[TRIAL]")] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what a trial found, and how sure that is."""
    from fairsmoke.telling.as_json import finding_json
    from fairsmoke.telling.text import finding_text

    found, shown = _judged(notebook, which or trial, units)
    if as_json:
        show_json(finding_json(found))
    else:
        say(finding_text(found, shown))


def _judged(
    notebook: Path, trial: str, units: Literal["metric", "us"] | None
) -> "tuple[Finding, Units]":
    """Judge a trial of a notebook, in the units asked for or else the notebook's own."""
    from fairsmoke.judging.judge import judge as judge_record
    from fairsmoke.quantity import Units

    with opened(notebook) as book:
        record = book.load_trial(trial_meant(book, trial))
        shown = Units.named(units or book.kitchen.units)
    return judge_record(record, made=datetime.now(UTC), units=shown), shown


def tell(
    report: Annotated[Path, typer.Argument(help=T_("The PDF to write."))] = Path("report.pdf"),
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    paper: PaperOption = "a4",
    units: UnitsOption = None,
    over: Annotated[
        bool, typer.Option("--replace", help=T_("Replace a report that is there already."))
    ] = False,
) -> None:
    """Write the report of a trial as PDF."""
    from fairsmoke.messages.errors import JobError
    from fairsmoke.telling.report import write_report

    if report.suffix.lower() != ".pdf":
        raise JobError(f"the report is a PDF; call it '{report.with_suffix('.pdf').name}'")
    if not report.parent.is_dir():
        raise JobError(f"there is no folder {report.parent}; make it first")
    if report.exists() and not over:
        raise JobError(f"{report} is there already; give another name, or --replace")
    found, shown = _judged(notebook, trial, units)
    write_report(found, report, units=shown, paper=paper)
    say(f"Written: {report}")
