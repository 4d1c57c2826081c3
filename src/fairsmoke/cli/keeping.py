"""Keep the notebook: start, show, correct, strike, history, copy, check."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

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
    out,
    pairs,
    say,
    show_json,
    table,
    trial_meant,
)
from fairsmoke.jobs.errors import JobError

if TYPE_CHECKING:
    from fairsmoke.notebook import Notebook

KindArgument = Annotated[str, typer.Argument(help="What kind of record: event, weighing, piece …")]
HandleArgument = Annotated[str, typer.Argument(help="Its handle (id).")]

OF_KITCHEN = ("kitchen", "cooker", "scale", "probe", "taster", "known_layout", "trial")


def start(
    name: Annotated[str, typer.Argument(help="Whose notebook it is.")],
    time_zone: Annotated[
        str, typer.Option(help="The time zone of its clocks, such as Europe/London.")
    ],
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    units: Annotated[
        Literal["metric", "us"], typer.Option(help="°C and kg, or °F and lb.")
    ] = "metric",
    by: ByOption = "",
) -> None:
    """Start a new notebook."""
    from fairsmoke.notebook import Notebook
    from fairsmoke.trial.kitchen import Kitchen

    kitchen = Kitchen(name=name, time_zone=time_zone, units=units)
    with Notebook.create(notebook, kitchen, by=by):
        pass
    say(f"Started {notebook}. Next: fairsmoke read FOLDER -n {notebook}")


def show(
    trial: Annotated[str, typer.Argument(help="Which trial; without one, all of them.")] = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    as_json: JsonOption = False,
) -> None:
    """Show what the notebook holds, or one trial in it."""
    from fairsmoke.cli.overview import (
        notebook_overview,
        print_notebook,
        print_trial,
        trial_overview,
    )

    with opened(notebook) as book:
        if not trial:
            content = notebook_overview(book)
            show_json(content) if as_json else print_notebook(content)
            return
        content = trial_overview(book, trial_meant(book, trial))
        show_json(content) if as_json else print_trial(content)


def correct(
    kind: KindArgument,
    handle: HandleArgument,
    changes: Annotated[
        list[str], typer.Argument(help="FIELD=VALUE as in a file: at='2026-05-02 19:05'.")
    ],
    why: WhyOption,
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Correct a record; the old value, the time and the reason are kept."""
    fields = pairs(changes, "the change")
    with opened(notebook) as book:
        owner = _owner(book, kind, trial)
        book.correct(kind, handle, fields, why=why, by=by, trial=owner)
    say(f"Corrected {kind} {handle}: {', '.join(fields)}.")


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
        book.strike(kind, handle, why=why, by=by, trial=_owner(book, kind, trial))
    say(f"Struck out {kind} {handle}.")


def history(
    kind: Annotated[str, typer.Argument(help="What kind of record; without one, all.")] = "",
    handle: Annotated[str, typer.Argument(help="Its handle (id).")] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    as_json: JsonOption = False,
) -> None:
    """Show every state that records had: when, by whom and why they were changed."""
    from fairsmoke.telling.as_json import plain

    with opened(notebook) as book:
        owner = _owner(book, kind, trial) if kind else (trial or None)
        found = book.history(kind or None, handle or None, trial=owner)
    if as_json:
        show_json(plain(found))
        return
    shown = table("recorded", "what", "state", "by", "why")
    for one in found:
        what = f"{one.key.kind} {one.key.handle}"
        state = "struck out" if one.struck else f"no. {one.number}"
        shown.add_row(f"{one.recorded_at:%Y-%m-%d %H:%M} UTC", what, state, one.by, one.why)
    out.print(shown)


def copy(
    target: Annotated[Path, typer.Argument(help="The new file.")],
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
        for trial in book.trials():
            found += [f"trial '{trial.id}': {p}" for p in book.load_trial(trial.id).problems()]
    if as_json:
        show_json({"notebook": str(notebook), "problems": found})
    else:
        for problem in found:
            say(f"- {problem}")
        say("Something has to be mended." if found else "The notebook is whole.")
    if found:
        raise typer.Exit(CANNOT)


def _owner(book: "Notebook", kind: str, trial: str) -> str:
    if kind in OF_KITCHEN:
        if trial:
            raise JobError(f"a {kind} belongs to the whole notebook; leave --trial out")
        return ""
    return trial_meant(book, trial)
