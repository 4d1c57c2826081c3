"""Plan a trial that was asked: ``draw``, ``redraw``, ``register``, ``amend``, ``begin``."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import (
    CANNOT,
    DEFAULT_NOTEBOOK,
    ByOption,
    JsonOption,
    NotebookOption,
    TrialOption,
    WhyOption,
    notebook_option,
    opened,
    pairs,
    reader_here,
    say,
    show_json,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_, Listed

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from fairsmoke.setting_up.draw import Redrawn
    from fairsmoke.trial.record import TrialRecord

Kind = Literal[
    "matched sets",
    "halves",
    "blocks",
    "latin square",
    "incomplete blocks",
    "whole cooks",
    "search",
]


def draw(
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    kind: Annotated[
        Kind | None,
        typer.Option(help=T_("The kind of layout; what suits the numbers if left out.")),
    ] = None,
    swap: Annotated[
        bool, typer.Option("--swap", help=T_("Pieces of a set change places during the cook."))
    ] = False,
    seed: Annotated[
        int | None, typer.Option(min=0, help=T_("Made by chance when left out, and always kept."))
    ] = None,
    why: WhyOption = "",
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Draw which piece gets which arm, in which cook and place; kept with its seed."""
    from fairsmoke.setting_up.draw import draw as draw_layout
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.plan import layout_document, remarks_json
    from fairsmoke.trial.plan import LayoutKind

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        wanted = None if kind is None else LayoutKind(kind)
        with far_along(N_("Drawing the layout")):
            found = draw_layout(book, owner, kind=wanted, swap=swap, seed=seed, by=by, why=why)
    if as_json:
        show_json(
            {
                "trial": owner,
                "layout": found.layout.model_dump(mode="json"),
                "draw": found.trial.draw.model_dump(mode="json"),
                "remarks": remarks_json(found.remarks),
            }
        )
        return
    reader = reader_here()
    sections = layout_document(found.layout, found.trial, found.remarks)
    say(document_text(sections, reader))
    following = f"fairsmoke register -t {owner}{notebook_option(notebook)}"
    say(reader.say(N_("Next: %(command)s", command=following)))


def redraw(
    file: Annotated[
        Path | None,
        typer.Argument(
            help=T_("A registered plan (registered-plan.json); nothing else is needed.")
        ),
    ] = None,
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    as_json: JsonOption = False,
) -> None:
    """Draw a layout again from its seed and say whether it is the same (exit code 0, else 1)."""
    from fairsmoke.setting_up.draw import redraw as redraw_trial
    from fairsmoke.setting_up.draw import redraw_file

    if file is not None:
        with far_along(N_("Drawing the layout")):
            found = redraw_file(file)
    else:
        with opened(notebook) as book:
            meant = trial_meant(book, trial)
            with far_along(N_("Drawing the layout")):
                found = redraw_trial(book, meant)
    if as_json:
        show_json(
            {
                "same": found.same,
                "differs": list(found.differs),
                "best_matched": found.best_matched,
                "digest": found.digest,
                "layout": found.layout.model_dump(mode="json"),
                "again": found.again.model_dump(mode="json"),
            }
        )
    else:
        _show_redrawn(found)
    if not found.same:
        raise typer.Exit(CANNOT)


def _show_redrawn(found: "Redrawn") -> None:
    tell = reader_here().say
    if found.digest is not None:
        say(f"SHA-256 {found.digest}")
    if found.same:
        say(tell(N_("The same: this layout is what its seed gives.")))
    if found.differs:
        pieces = Listed(found.differs)
        say(tell(N_("Not the same: the seed gives another slot to %(pieces)s.", pieces=pieces)))
    if found.best_matched is False:
        say(tell(N_("Not the best matching: other sets of these pieces would be more alike.")))


def register(
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    copy_to: Annotated[
        Path | None, typer.Option("--out", help=T_("Write the frozen plan there, for others."))
    ] = None,
    late: Annotated[
        bool,
        typer.Option("--late", help=T_("Freeze it after the first result; stays exploratory.")),
    ] = False,
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Freeze question, measures, verdict rule, layout and seed before the first result.

    Registered already, it shows digest, amendments and what differs; --out writes the plan.
    """
    from fairsmoke.setting_up.register import register as freeze
    from fairsmoke.setting_up.register import write_registered
    from fairsmoke.trial.clock import time_zone

    if copy_to is not None and copy_to.exists():
        raise JobError(N_("%(file)s is there already; give another name", file=str(copy_to)))
    if copy_to is not None and not copy_to.parent.is_dir():
        raise JobError(
            N_("there is no folder %(folder)s; make it first", folder=str(copy_to.parent))
        )
    with opened(notebook) as book:
        owner, zone = trial_meant(book, trial), time_zone(book.kitchen.time_zone)
        record = book.load_trial(owner)
        if record.registration is None:
            freeze(book, owner, by=by, late=late)
            record = book.load_trial(owner)
        if copy_to is not None:
            write_registered(book, owner, copy_to)
    _show_registered(record, copy_to, zone, as_json=as_json)


def _show_registered(
    record: "TrialRecord", copy_to: Path | None, zone: "ZoneInfo", *, as_json: bool
) -> None:
    from fairsmoke.judging.deviations import deviations_of
    from fairsmoke.telling.as_json import plain
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.plan import registered_document

    registration = record.registration
    assert registration is not None
    differs = deviations_of(record)
    if as_json:
        show_json(
            {
                "trial": record.trial.id,
                "at": registration.at.isoformat(),
                "digest": registration.digest,
                "amendments": [one.model_dump(mode="json") for one in registration.amendments],
                "deviations": plain(differs),
                "file": None if copy_to is None else str(copy_to),
            }
        )
        return
    sections = registered_document(record, None if copy_to is None else str(copy_to))
    say(document_text(sections, reader_here(zone=zone)))


def amend(
    changes: Annotated[
        list[str] | None,
        typer.Argument(help=T_("FIELD=VALUE of the trial, to be changed with it, as in a file.")),
    ] = None,
    why: WhyOption = "",
    what: Annotated[str, typer.Option(help=T_("What is done otherwise, in words."))] = "",
    by: ByOption = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    as_json: JsonOption = False,
) -> None:
    """Tell a change of a registered plan: dated, kept, and shown in every report."""
    from fairsmoke.setting_up.register import amend as amend_plan
    from fairsmoke.telling.plan import amendment_words
    from fairsmoke.trial.clock import time_zone

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        fields = pairs(changes or [], "the change")
        zone = time_zone(book.kitchen.time_zone)
        found = amend_plan(book, owner, why=why, what=what, changes=fields, by=by)
    if as_json:
        show_json(found.model_dump(mode="json"))
        return
    say(reader_here(zone=zone).say(amendment_words(found)))


def begin(
    number: Annotated[int, typer.Argument(min=1, help=T_("Which cook of the plan."))],
    starts: Annotated[
        str,
        typer.Option("--start", help=T_("By the kitchen's clock: '2026-05-02 18:30'; else now.")),
    ] = "",
    handle: Annotated[str, typer.Option("--id", help=T_("The cook's handle; else cook-1 …"))] = "",
    name: Annotated[str, typer.Option(help=T_("The cook's name."))] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Begin a planned cook: its pieces are recorded with arm, partner and place as drawn."""
    from fairsmoke.setting_up.begin import begin as begin_cook
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.plan import begun_document
    from fairsmoke.trial.clock import parse_instant, time_zone

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        zone = time_zone(book.kitchen.time_zone)
        at = parse_instant(starts, zone) if starts else datetime.now(UTC).replace(microsecond=0)
        found = begin_cook(book, owner, number, at, handle=handle, name=name, by=by)
        record = book.load_trial(owner, lazy=True)
    if as_json:
        content: dict[str, Any] = {
            "cook": found.cook.model_dump(mode="json"),
            "pieces": [piece.model_dump(mode="json") for piece in found.pieces],
            "slots": [slot.model_dump(mode="json") for slot in found.slots],
        }
        show_json(content)
        return
    reader = reader_here(zone=zone)
    say(document_text(begun_document(record, found.cook, found.slots), reader))
    command = f"fairsmoke serve {notebook}"
    say(reader.say(N_("Next: %(command)s, and record it at the pit", command=command)))
