"""Plan a trial: ``ask``, ``draw``, ``redraw``, ``register``, ``amend``, ``begin``."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from fairsmoke.cli.screen import (
    CANNOT,
    DEFAULT_NOTEBOOK,
    NEEDS_ANSWER,
    ByOption,
    JsonOption,
    NotebookOption,
    TrialOption,
    WhyOption,
    at_keyboard,
    complain,
    opened,
    out,
    pairs,
    say,
    show_json,
    table,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import T_

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fairsmoke.planning.asked import Asked
    from fairsmoke.planning.remarks import Remark
    from fairsmoke.setting_up.ask import Asking
    from fairsmoke.trial.plan import Layout
    from fairsmoke.trial.record import TrialRecord

Kind = Literal["matched sets", "halves", "blocks", "latin square", "incomplete blocks", "search"]
Species = Literal["beef", "pork", "lamb", "turkey", "chicken", "other"]


def ask(
    file: Annotated[
        Path | None, typer.Argument(help=T_("A YAML file with all answers (docs/planning.md)."))
    ] = None,
    title: Annotated[str, typer.Option(help=T_("A short title."))] = "",
    question: Annotated[str, typer.Option(help=T_("What you want to know."))] = "",
    differs: Annotated[str, typer.Option(help=T_("What differs, in a few words."))] = "",
    arm: Annotated[
        list[str] | None,
        typer.Option(help=T_("'Bare', then 'In paper: wrap=paper'; the first is the base.")),
    ] = None,
    measure: Annotated[
        list[str] | None,
        typer.Option(help=T_("'yield: 2 points', 'Bark 0-10: 1'; the first is the main one.")),
    ] = None,
    sure: Annotated[str, typer.Option(help=T_("How sure a verdict must be: '95 %'."))] = "",
    cut: Annotated[str, typer.Option(help=T_("brisket, pork shoulder …"))] = "",
    species: Annotated[Species, typer.Option(help=T_("Of which animal."))] = "other",
    piece: Annotated[
        list[str] | None,
        typer.Option(help=T_("'shoulder-1: 3.41 kg, 11.5 cm, choice', or only how many.")),
    ] = None,
    cooker: Annotated[
        list[str] | None,
        typer.Option(help=T_("A new one with its positions: 'Barrel: left, right'.")),
    ] = None,
    stand_in: Annotated[
        list[str] | None, typer.Option(help=T_("A cooker of the notebook, by its handle."))
    ] = None,
    cooks: Annotated[int, typer.Option(min=1, help=T_("Cooks that can be afforded."))] = 1,
    tasters: Annotated[int, typer.Option(min=0, help=T_("How many taste."))] = 0,
    blind: Annotated[
        bool | None, typer.Option(help=T_("Tasters do not know which sample is which."))
    ] = None,
    price_piece: Annotated[str, typer.Option(help=T_("Of one piece, a number."))] = "",
    price_cook: Annotated[str, typer.Option(help=T_("Of one cook: fuel, a night."))] = "",
    currency: Annotated[str, typer.Option(help=T_("Of the prices."))] = "",
    leave_out: Annotated[
        list[str] | None, typer.Option(help=T_("A reason for which a piece would not count."))
    ] = None,
    pit: Annotated[str, typer.Option(help=T_("Air: '121 °C', '250 °F'."))] = "121 °C",
    wrap: Annotated[str, typer.Option(help=T_("paper, foil, boat … in every arm."))] = "",
    wrap_at: Annotated[str, typer.Option(help=T_("Core at which it is wrapped."))] = "71 °C",
    until: Annotated[str, typer.Option(help=T_("Core at which it comes off."))] = "94 °C",
    hold: Annotated[str, typer.Option(help=T_("Holding cabinet: '66 °C'."))] = "",
    hold_for: Annotated[str, typer.Option(help=T_("How long it is held."))] = "2 h",
    handle: Annotated[
        str, typer.Option("--id", help=T_("The trial's handle, if not its title."))
    ] = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    only_look: Annotated[
        bool, typer.Option("--only-look", help=T_("Say what would spoil it; record nothing."))
    ] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help=T_("Record nothing when anything would spoil it."))
    ] = False,
    why: WhyOption = "",
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Set up a trial by short questions, options or a file, and hear what would spoil it.

    Without a file and without --title the questions are asked one by one.
    """
    from fairsmoke.setting_up.ask import ask as record_asked
    from fairsmoke.setting_up.ask import look_at
    from fairsmoke.setting_up.ask_answers import Answers, asked_of_answers, asked_of_file
    from fairsmoke.setting_up.method import Method
    from fairsmoke.trial.cook import Cooker

    asked: Asked | None
    if file is not None:
        asked = asked_of_file(file)
    elif title:
        method = Method(
            pit=pit, wrap=wrap, wrap_at=wrap_at, until=until, hold=hold, hold_for=hold_for
        )
        asked = asked_of_answers(
            Answers(
                title=title,
                question=question or title,
                differs=differs or title,
                cut=cut,
                species=species,
                arms=arm or (),
                measures=measure or (),
                pieces=piece or (),
                method=method,
                cookers=cooker or (),
                stand_in=stand_in or (),
                cooks=str(cooks),
                tasters=str(tasters),
                blind=blind,
                price_piece=price_piece,
                price_cook=price_cook,
                currency=currency,
                leave_out=leave_out or (),
                sure=sure,
                handle=handle,
            )
        )
    elif at_keyboard() and not as_json:
        from fairsmoke.cli.ask_trial import asked_one_by_one

        with opened(notebook) as book:
            asked = asked_one_by_one(book.list(Cooker))
    else:
        complain("Asked: what is the trial about? Give a FILE, or --title and the other options.")
        raise typer.Exit(NEEDS_ANSWER)
    if asked is None:
        say("Nothing was recorded.")
        return
    with opened(notebook) as book:
        found = look_at(asked, book.list(Cooker))
        stopped = strict and bool(found.remarks)
        if not only_look and not stopped:
            found = record_asked(book, asked, by=by, why=why)
    _show_asked(found, notebook, recorded=not (only_look or stopped), as_json=as_json)
    if stopped:
        raise typer.Exit(CANNOT)


def _show_asked(found: "Asking", notebook: Path, *, recorded: bool, as_json: bool) -> None:
    if as_json:
        show_json(
            {
                "trial": found.trial.model_dump(mode="json"),
                "plan": found.plan.model_dump(mode="json"),
                "remarks": _remarks_json(found.remarks),
                "recorded": recorded,
            }
        )
        return
    say(f"{found.trial.title} ({found.trial.id})")
    _show_remarks(found.remarks)
    if recorded:
        say(f"Recorded. Next: fairsmoke draw -t {found.trial.id}{_book(notebook)}")
    else:
        say("Nothing was recorded.")


def _book(notebook: Path) -> str:
    return "" if notebook == DEFAULT_NOTEBOOK else f" -n {notebook}"


def _remarks_json(remarks: "Sequence[Remark]") -> list[dict[str, str]]:
    return [{"code": one.code, "sentence": one.sentence, "mend": one.mend} for one in remarks]


def _show_remarks(remarks: "Sequence[Remark]") -> None:
    if not remarks:
        say("Nothing was found that would spoil the answer.")
        return
    say("What would spoil the answer:")
    for one in remarks:
        say(f"- {one.sentence}")
        say(f"  Mend: {one.mend} [{one.code}]")


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
    from fairsmoke.trial.plan import LayoutKind

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        wanted = None if kind is None else LayoutKind(kind)
        found = draw_layout(book, owner, kind=wanted, swap=swap, seed=seed, by=by, why=why)
    if as_json:
        show_json(
            {
                "trial": owner,
                "layout": found.layout.model_dump(mode="json"),
                "draw": found.trial.draw.model_dump(mode="json"),
                "remarks": _remarks_json(found.remarks),
            }
        )
        return
    _show_layout(found.layout, {one.id: one.name for one in found.trial.arms})
    _show_remarks(found.remarks)
    say(f"Next: fairsmoke register -t {owner}{_book(notebook)}")


def _show_layout(layout: "Layout", arms: dict[str, str]) -> None:
    moved = any(slot.then for slot in layout.slots)
    shown = table("cook", "set", "piece", "arm", "place", *(["then"] if moved else []))
    for slot in layout.slots:
        place = slot.spot.text if slot.spot else "anywhere"
        then = [", ".join(spot.text for spot in slot.then)] if moved else []
        name = arms.get(slot.arm, slot.arm)
        shown.add_row(str(slot.cook), slot.block, slot.piece, name, place, *then)
    out.print(shown)
    say(layout.free)
    if layout.spare:
        say(f"Left over: {', '.join(layout.spare)}.")
    times = f"; {layout.drawn_before} earlier drawn and thrown away" * bool(layout.drawn_before)
    say(f"{str(layout.kind).capitalize()}, seed {layout.seed}, {layout.algorithm}{times}.")


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
        found = redraw_file(file)
    else:
        with opened(notebook) as book:
            found = redraw_trial(book, trial_meant(book, trial))
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
        _show_redrawn(found.same, found.differs, found.best_matched, found.digest)
    if not found.same:
        raise typer.Exit(CANNOT)


def _show_redrawn(
    same: bool, differs: "Sequence[str]", best_matched: bool | None, digest: str | None
) -> None:
    if digest is not None:
        say(f"SHA-256 {digest}")
    if same:
        say("The same: this layout is what its seed gives.")
    if differs:
        say(f"Not the same: the seed gives another slot to {', '.join(differs)}.")
    if best_matched is False:
        say("Not the best matching: other sets of these pieces would be more alike.")


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

    if copy_to is not None and copy_to.exists():
        raise JobError(f"{copy_to} is there already; give another name")
    if copy_to is not None and not copy_to.parent.is_dir():
        raise JobError(f"there is no folder {copy_to.parent}; make it first")
    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        record = book.load_trial(owner)
        if record.registration is None:
            freeze(book, owner, by=by, late=late)
            record = book.load_trial(owner)
        if copy_to is not None:
            write_registered(book, owner, copy_to)
    _show_registered(record, copy_to, as_json=as_json)


def _show_registered(record: "TrialRecord", copy_to: Path | None, *, as_json: bool) -> None:
    from fairsmoke.judging.deviations import deviations_of
    from fairsmoke.telling.as_json import plain

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
    say(f"Registered on {registration.at:%Y-%m-%d %H:%M} UTC.")
    say(f"SHA-256 {registration.digest}")
    for one in registration.amendments:
        say(f"Amended {one.at:%Y-%m-%d %H:%M} UTC: {one.what} Why: {one.why}")
    for deviation in differs:
        mark = "amended" if deviation.told else "not amended"
        say(f"Differs ({mark}): {deviation.sentence}")
    if copy_to is not None:
        say(f"Written: {copy_to}. Anyone checks it with: sha256sum {copy_to}")
    else:
        say("--out FILE writes the frozen plan; its sha256sum is the one above.")


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

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        fields = pairs(changes or [], "the change")
        found = amend_plan(book, owner, why=why, what=what, changes=fields, by=by)
    if as_json:
        show_json(found.model_dump(mode="json"))
        return
    say(f"Amended {found.at:%Y-%m-%d %H:%M} UTC: {found.what}")
    say(f"Why: {found.why}")


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
    from fairsmoke.trial.clock import parse_instant, show_instant, time_zone

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        zone = time_zone(book.kitchen.time_zone)
        at = parse_instant(starts, zone) if starts else datetime.now(UTC).replace(microsecond=0)
        found = begin_cook(book, owner, number, at, handle=handle, name=name, by=by)
        arms = {one.id: one.name for one in book.load_trial(owner, lazy=True).trial.arms}
        remark = _unregistered(book.load_trial(owner, lazy=True))
    if as_json:
        content: dict[str, Any] = {
            "cook": found.cook.model_dump(mode="json"),
            "pieces": [piece.model_dump(mode="json") for piece in found.pieces],
            "slots": [slot.model_dump(mode="json") for slot in found.slots],
        }
        show_json(content)
        return
    say(f"{found.cook.name} ({found.cook.id}) from {show_instant(found.cook.starts, zone)}")
    for slot in found.slots:
        then = f", then {', '.join(spot.text for spot in slot.then)}" if slot.then else ""
        place = slot.spot.text if slot.spot else "anywhere"
        say(f"  {slot.piece}: “{arms[slot.arm]}” in {place}{then}")
    if remark:
        say(remark)
    say(f"Next: fairsmoke serve {notebook}, and record it at the pit")


def _unregistered(record: "TrialRecord") -> str:
    if record.registration is not None:
        return ""
    return (
        f"Not registered yet: 'fairsmoke register -t {record.trial.id}' before anything is seen, "
        "or the trial counts as exploratory."
    )
