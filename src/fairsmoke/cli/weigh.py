"""Record a weighing from the shell, and confirm one that was doubted: ``weigh``, ``confirm``."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fairsmoke.cli.doubted import InsistOption, settled
from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    ByOption,
    NotebookOption,
    TrialOption,
    WhyOption,
    opened,
    owner_of,
    say,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_

if TYPE_CHECKING:
    from fairsmoke.notebook import Notebook


def weigh(
    reading: Annotated[str, typer.Argument(help=T_("What the scale shows, with its unit."))],
    parts: Annotated[
        str,
        typer.Argument(metavar="PARTS", help=T_("What lies on it: 'trimmed meat + green tray'.")),
    ],
    piece: Annotated[str, typer.Option(help=T_("Whose it is; not for trays alone."))] = "",
    scale: Annotated[
        str, typer.Option(help=T_("Which scale; may be left out when there is one."))
    ] = "",
    at: Annotated[str, typer.Option(help=T_("When, local time; now when left out."))] = "",
    note: Annotated[str, typer.Option(help=T_("A note."))] = "",
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    insist: InsistOption = False,
) -> None:
    """Record a weighing; what hardly can be true is asked about first."""
    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        content = {"reading": reading, "sum": parts, "piece": piece, "note": note, "by": by}
        content |= {"at": at, "scale": scale or _only_scale(book)}

        def attempt(changes: Mapping[str, str], insisted: bool) -> str:
            return _recorded(book, owner, {**content, **changes}, insist=insisted)

        handle = settled(attempt, insist=insist)
    say(N_("Recorded as weighing %(handle)s.", handle=handle))


def _only_scale(book: "Notebook") -> str:
    from fairsmoke.trial.weighing import Scale

    scales = [one.id for one in book.list(Scale)]
    if len(scales) != 1:
        message = N_(
            "say which scale with --scale: %(known)s", known=", ".join(scales) or N_("none")
        )
        raise JobError(message, field="scale")
    return scales[0]


def _recorded(book: "Notebook", trial: str, given: Mapping[str, str], *, insist: bool) -> str:
    """Write a weighing and return its handle. Raises DoubtedError when nobody insists."""
    from fairsmoke.app.entries.base import next_handle
    from fairsmoke.arriving.doubted import refuse_new
    from fairsmoke.trial.clock import time_zone
    from fairsmoke.trial.cook import Cook, Piece
    from fairsmoke.trial.weighing import Weighing

    content: dict[str, Any] = {name: value for name, value in given.items() if value}
    with book.transaction(by=given["by"]) as transaction:
        zone = time_zone(book.kitchen.time_zone)
        cook = ""
        if given["piece"]:
            piece = transaction.get(Piece, given["piece"], trial=trial)
            assert isinstance(piece, Piece)
            cook = piece.cook or ""
        if cook:
            found = transaction.get(Cook, cook, trial=trial)
            assert isinstance(found, Cook)
            zone = time_zone(found.time_zone)
            content["cook"] = cook
        content["id"] = next_handle(transaction.connection, trial, cook, "weighing")
        if not given["at"]:
            content["at"] = datetime.now(UTC).isoformat()
        transaction.save(Weighing.from_file(content, zone), trial=trial)
        if not insist:
            refuse_new(transaction.connection, trial, "weighing", content["id"])
    return str(content["id"])


def confirm(
    kind: Annotated[
        str, typer.Argument(help=T_("What kind of record: weighing, event or placement."))
    ],
    handle: Annotated[str, typer.Argument(help=T_("Its handle (id)."))],
    why: WhyOption,
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Confirm what is doubted: it is right as it stands, and counts again."""
    with opened(notebook) as book:
        owner = owner_of(book, kind, trial)
        book.confirm(kind, handle, why=why, by=by, trial=owner)
    say(N_("Confirmed %(kind)s %(handle)s: it counts again.", kind=kind, handle=handle))
