"""Keep the notebook: start, correct, strike, bring-back, copy, restore, check."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.doubted import InsistOption, settled
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
    said,
    say,
    show_json,
)
from fairsmoke.messages.message import N_, T_, Words, placed

if TYPE_CHECKING:
    from fairsmoke.trial.base import Record

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
    say(
        N_(
            "Started %(notebook)s. Next: fairsmoke ask -n %(notebook)s, or read FOLDER instead",
            notebook=notebook,
        )
    )


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
    insist: InsistOption = False,
) -> None:
    """Correct a record; the old value, the time and the reason are kept."""
    from fairsmoke.arriving.doubted import correct as correct_asking
    from fairsmoke.trial.clock import time_zone

    fields = pairs(changes, N_("the change"))
    with opened(notebook) as book:
        owner = owner_of(book, kind, trial)
        zone = time_zone(book.kitchen.time_zone)
        before = book.get(kind, handle, trial=owner).to_file(zone)

        def attempt(likely: Mapping[str, str], insisted: bool) -> "Record":
            meant = {**fields, **likely}
            return correct_asking(
                book, kind, handle, meant, why=why, by=by, trial=owner, insist=insisted
            )

        after = settled(attempt, insist=insist).to_file(zone)
        registered = kind in ("trial", "plan") and bool(
            book.list("registration", trial=owner or handle)
        )
    changed = [key for key in dict.fromkeys((*before, *after)) if before.get(key) != after.get(key)]
    if not changed:
        say(
            N_(
                "%(kind)s %(handle)s says that already; nothing was changed.",
                kind=kind,
                handle=handle,
            )
        )
    if changed and registered:
        say(
            N_(
                "Its plan is registered, so reports say what differs; tell it: fairsmoke "
                "amend --why …"
            )
        )
    for key in changed:
        old, new = (one.get(key, N_("nothing")) for one in (before, after))
        say(placed(f"{kind} {handle}, {key}", N_("%(old)s → %(new)s", old=old, new=new)))


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
    say(N_("Struck out %(kind)s %(handle)s.", kind=kind, handle=handle))


def bring_back(
    kind: KindArgument,
    handle: HandleArgument,
    why: WhyOption,
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    insist: InsistOption = False,
) -> None:
    """Bring back a record that was struck out."""
    from fairsmoke.arriving.doubted import bring_back as bring_back_asking

    with opened(notebook) as book:
        owner = owner_of(book, kind, trial)

        def attempt(_: Mapping[str, str], insisted: bool) -> "Record":
            return bring_back_asking(
                book, kind, handle, why=why, by=by, trial=owner, insist=insisted
            )

        settled(attempt, insist=insist)
    say(N_("Brought back %(kind)s %(handle)s.", kind=kind, handle=handle))


def copy(
    target: Annotated[Path, typer.Argument(help=T_("The new file."))],
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Copy the notebook into one new file, even while it is in use."""
    with opened(notebook) as book:
        book.backup(target)
    say(N_("Copied to %(target)s.", target=target))


def restore(
    source: Annotated[
        Path | None,
        typer.Argument(
            metavar="[COPY]", help=T_("The copy to put back; the newest dated one if left out.")
        ),
    ] = None,
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Put a copy of the notebook back in its place; what lies there now is kept beside it."""
    from datetime import datetime

    from fairsmoke.messages.errors import JobError
    from fairsmoke.notebook.copies import copies_of, dated_copies
    from fairsmoke.notebook.copies import restore as put_back

    found = source or next(iter(dated_copies(notebook)), None)
    if found is None:
        raise JobError(
            N_(
                "there is no dated copy in %(folder)s; name the copy to put back",
                folder=copies_of(notebook),
            )
        )
    aside = put_back(found, notebook, datetime.now().astimezone())
    say(N_("%(notebook)s is now what %(copy)s holds.", notebook=notebook, copy=found))
    if aside is not None:
        say(N_("What lay there is kept as %(aside)s.", aside=aside))


def check(notebook: NotebookOption = DEFAULT_NOTEBOOK, as_json: JsonOption = False) -> None:
    """Check that the notebook is whole, and that its trials fit together."""
    from fairsmoke.judging.waiting import waiting_of
    from fairsmoke.trial.nouns import named

    with opened(notebook) as book:
        found: list[Words] = [*book.check()]
        seal = book.seal
        remarks: list[Words] = []
        for trial in book.trials():
            record = book.load_trial(trial.id, lazy=True)
            place = named("trial", trial.id)
            found += [placed(place, problem) for problem in record.problems()]
            remarks += [placed(place, remark) for remark in record.remarks()]
            remarks += [placed(place, one.words) for one in waiting_of(record)]
    if as_json:
        show_json(
            {
                "notebook": str(notebook),
                "seal": seal,
                "problems": [str(one) for one in found],
                "remarks": [str(one) for one in remarks],
            }
        )
    else:
        for problem in found:
            say(f"- {said(problem)}")
        for remark in remarks:
            say(N_("Note: %(remark)s", remark=remark))
        say(N_("Something has to be mended.") if found else N_("The notebook is whole."))
        if seal:
            say(N_("Seal of its history: %(seal)s", seal=seal))
    if found:
        raise typer.Exit(CANNOT)
