"""Judge a trial and tell of it: ``demo``, ``judge``, ``tell``."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    opened,
    reader_here,
    say,
    show_json,
    trial_meant,
)
from fairsmoke.messages.message import N_, T_

if TYPE_CHECKING:
    from fairsmoke.judging.finding import Finding
    from fairsmoke.telling.reader import Reader

Paper = Literal["a4", "us-letter"]
PaperOption = Annotated[Paper, typer.Option(help=T_("The size of the report's pages."))]
UnitsOption = Annotated[
    Literal["metric", "us"] | None,
    typer.Option(help=T_("°C and kg, or °F and lb; otherwise as the notebook says.")),
]
LanguageOption = Annotated[
    Literal["en", "de"] | None,
    typer.Option(help=T_("English or German; otherwise as this shell is.")),
]
PastOption = Annotated[
    bool, typer.Option(help=T_("Whether the notebook's earlier trials say how pieces spread."))
]
ClockOption = Annotated[Literal["24", "12"], typer.Option(help=T_("Hours that the clock has."))]


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
    reader = reader_here()
    if tonight is not None:
        from fairsmoke.answers.demonstration_tonight import make_tonight

        make_tonight(tonight, datetime.now(UTC))
        made_it = N_(
            "Made %(file)s, in which the last night of the invented trial is running now.",
            file=str(tonight),
        )
        say(reader.say(made_it))
        say(reader.say(N_("To look at it: %(command)s", command=f"fairsmoke serve {tonight}")))
        return
    from fairsmoke.answers.demonstration import demonstrate
    from fairsmoke.telling.as_json import finding_json

    with far_along(N_("Recording, judging and telling the invented trial")):
        made = demonstrate(folder, reader=reader, paper=paper)
    if as_json:
        show_json(finding_json(made.finding))
        return
    _print(made.finding, reader)
    say()
    there = N_(
        "The report is %(report)s, the record as open files %(folder)s.",
        report=str(made.report),
        folder=str(made.folder),
    )
    say(reader.say(there))
    look = f".venv/bin/fairsmoke show -n {made.notebook}"
    say(reader.say(N_("To look further: %(command)s", command=look)))


def judge(
    which: Annotated[str, typer.Argument(help=T_("Which trial."), metavar="[TRIAL]")] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    units: UnitsOption = None,
    language: LanguageOption = None,
    clock: ClockOption = "24",
    past: PastOption = True,
    as_json: JsonOption = False,
) -> None:
    """Say what a trial found, and how sure that is."""
    from fairsmoke.telling.as_json import finding_json

    found, reader = _judged(notebook, which or trial, units, language, clock, past)
    if as_json:
        show_json(finding_json(found))
    else:
        _print(found, reader)


def _print(found: "Finding", reader: "Reader") -> None:
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.finding import for_terminal

    say(document_text(for_terminal(found), reader))


def _judged(
    notebook: Path,
    trial: str,
    units: Literal["metric", "us"] | None,
    language: str | None,
    clock: str,
    past: bool,
) -> "tuple[Finding, Reader]":
    """Judge a trial of a notebook; return who reads it too, in the notebook's units if not told."""
    from fairsmoke.answers.past import past_of
    from fairsmoke.answers.store import Store, usual_folder
    from fairsmoke.judging.judge import judge as judge_record
    from fairsmoke.quantity import Units

    with far_along(N_("Judging")):
        with opened(notebook) as book:
            meant = trial_meant(book, trial)
            record = book.load_trial(meant)
            taught = past_of(book, meant, Store(usual_folder())) if past else ()
            reader = reader_here(Units.named(units or book.kitchen.units))
        reader = replace(reader, language=language or reader.language, clock=clock)
        found = judge_record(record, made=datetime.now(UTC), past=taught)
    return found, reader


def tell(
    report: Annotated[Path, typer.Argument(help=T_("The PDF to write."))] = Path("report.pdf"),
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    paper: PaperOption = "a4",
    units: UnitsOption = None,
    language: LanguageOption = None,
    clock: ClockOption = "24",
    past: PastOption = True,
    over: Annotated[
        bool, typer.Option("--replace", help=T_("Replace a report that is there already."))
    ] = False,
) -> None:
    """Write the report of a trial as PDF."""
    from fairsmoke.messages.errors import JobError
    from fairsmoke.messages.message import InputField
    from fairsmoke.telling.report import write_report

    if report.suffix.lower() != ".pdf":
        name = report.with_suffix(".pdf").name
        raise JobError(N_("the report is a PDF; call it '%(name)s'", name=name))
    if not report.parent.is_dir():
        folder = str(report.parent)
        raise JobError(N_("there is no folder %(folder)s; make it first", folder=folder))
    if report.exists() and not over:
        there = N_(
            "%(file)s is there already; give another name, or %(replace)s",
            file=str(report),
            replace=InputField("replace"),
        )
        raise JobError(there)
    found, reader = _judged(notebook, trial, units, language, clock, past)
    with far_along(N_("Writing the report")):
        write_report(found, report, reader, paper=paper)
    say(reader.say(N_("Written: %(file)s", file=str(report))))
