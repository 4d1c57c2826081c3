"""Keep the notebook: start, correct, strike, bring-back, copy, check."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from fairsmoke.cli.screen import (
    CANNOT,
    DEFAULT_NOTEBOOK,
    ByOption,
    JsonOption,
    NotebookOption,
    TrialOption,
    WhyOption,
    opened,
    owner_of,
    pairs,
    say,
    show_json,
)
from fairsmoke.messages.message import T_

KindArgument = Annotated[
    str, typer.Argument(help=T_("What kind of record: event, weighing, piece …"))
]
HandleArgument = Annotated[str, typer.Argument(help=T_("Its handle (id)."))]


def start(
    name: Annotated[str, typer.Argument(help=T_("Whose notebook it is."))],
    time_zone: Annotated[
        str, typer.Option(help=T_("The time zone of its clocks, such as Europe/London."))
    ],
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    units: Annotated[
        Literal["metric", "us"], typer.Option(help=T_("°C and kg, or °F and lb."))
    ] = "metric",
    by: ByOption = "",
) -> None:
    """Start a new notebook."""
    from fairsmoke.notebook import Notebook
    from fairsmoke.trial.kitchen import Kitchen

    kitchen = Kitchen(name=name, time_zone=time_zone, units=units)
    with Notebook.create(notebook, kitchen, by=by):
        pass
    say(f"Started {notebook}. Next: fairsmoke ask -n {notebook}, or read FOLDER instead")


def correct(
    kind: KindArgument,
    handle: HandleArgument,
    changes: Annotated[
        list[str], typer.Argument(help=T_("FIELD=VALUE as in a file: at='2026-05-02 19:05'."))
    ],
    why: WhyOption,
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Correct a record; the old value, the time and the reason are kept."""
    from fairsmoke.trial.clock import time_zone

    fields = pairs(changes, "the change")
    with opened(notebook) as book:
        owner = owner_of(book, kind, trial)
        zone = time_zone(book.kitchen.time_zone)
        before = book.get(kind, handle, trial=owner).to_file(zone)
        after = book.correct(kind, handle, fields, why=why, by=by, trial=owner).to_file(zone)
        registered = kind in ("trial", "plan") and bool(
            book.list("registration", trial=owner or handle)
        )
    changed = [key for key in dict.fromkeys((*before, *after)) if before.get(key) != after.get(key)]
    if not changed:
        say(f"{kind} {handle} says that already; nothing was changed.")
    if changed and registered:
        say("Its plan is registered, so reports say what differs; tell it: fairsmoke amend --why …")
    for key in changed:
        say(f"{kind} {handle}, {key}: {before.get(key, 'nothing')} → {after.get(key, 'nothing')}")


def strike(
    kind: KindArgument,
    handle: HandleArgument,
    why: WhyOption,
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Strike a record out; it stays in the history."""
    with opened(notebook) as book:
        book.strike(kind, handle, why=why, by=by, trial=owner_of(book, kind, trial))
    say(f"Struck out {kind} {handle}.")


def bring_back(
    kind: KindArgument,
    handle: HandleArgument,
    why: WhyOption,
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Bring back a record that was struck out."""
    with opened(notebook) as book:
        book.bring_back(kind, handle, why=why, by=by, trial=owner_of(book, kind, trial))
    say(f"Brought back {kind} {handle}.")


def copy(
    target: Annotated[Path, typer.Argument(help=T_("The new file."))],
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Copy the notebook into one new file, even while it is in use."""
    with opened(notebook) as book:
        book.backup(target)
    say(f"Copied to {target}.")


def check(notebook: NotebookOption = DEFAULT_NOTEBOOK, as_json: JsonOption = False) -> None:
    """Check that the notebook is whole, and that its trials fit together."""
    with opened(notebook) as book:
        found = [*book.check()]
        remarks: list[str] = []
        for trial in book.trials():
            record = book.load_trial(trial.id, lazy=True)
            found += [f"trial '{trial.id}': {problem}" for problem in record.problems()]
            remarks += [f"trial '{trial.id}': {remark}" for remark in record.remarks()]
    if as_json:
        show_json({"notebook": str(notebook), "problems": found, "remarks": remarks})
    else:
        for problem in found:
            say(f"- {problem}")
        for remark in remarks:
            say(f"Note: {remark}")
        say("Something has to be mended." if found else "The notebook is whole.")
    if found:
        raise typer.Exit(CANNOT)
