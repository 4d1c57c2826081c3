"""What a trial did otherwise than its registered plan said: told beside every answer."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from fairsmoke.trial.clock import instant_of_ms
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import (
    ABSENT,
    Amendment,
    PlanChange,
    Registered,
    Registration,
    changes_between,
    registered_of,
)
from fairsmoke.trial.weighing import MeatState, PartKind

_RAW = frozenset({MeatState.BOUGHT, MeatState.TRIMMED})


@dataclass(frozen=True)
class Deviation:
    """Something that is otherwise than registered.

    ``about``: "late" (registered after the first result), "plan" (the question, a measure, the rule
    …), "conduct" (who got what, where it stood, what was left out). ``told`` when a dated
    amendment says it.
    """

    about: Literal["late", "plan", "conduct"]
    sentence: str
    told: bool = False


def deviations_of(record: TrialRecord) -> tuple[Deviation, ...]:
    """Return everything in which a trial differs from its registered plan; none without one."""
    registration = record.registration
    if registration is None:
        return ()
    late = _late(record, registration)
    try:
        registered = registered_of(registration.plan)
    except ValueError as error:
        sentence = f"What was registered cannot be compared with the trial: {error}."
        return (*late, Deviation("plan", sentence))
    now = Registered(record.trial, record.plan)
    plan = tuple(_plan_deviations(registered, now, registration.amendments))
    return (*late, *plan, *_conduct(record, registered.plan, registration.amendments))


def first_result(record: TrialRecord) -> datetime | None:
    """Return when the first thing was seen that could shape a plan; None when nothing was.

    That is an event, a reading, a ballot, a figure, or a weighing of meat that was cooked; what
    was weighed raw belongs to the planning.
    """
    found = [event.at for event in record.events]
    found += [instant_of_ms(int(r.time_ms[0])) for r in record.readings.values() if len(r)]
    found += [ballot.at for ballot in record.ballots if ballot.at is not None]
    found += [figure.at for figure in record.figures if figure.at is not None]
    for weighing in record.weighings:
        cooked = any(p.kind is PartKind.MEAT and p.label not in _RAW for p in weighing.sum)
        if cooked and weighing.at is not None:
            found.append(weighing.at)
    return min(found, default=None)


def _late(record: TrialRecord, registration: Registration) -> tuple[Deviation, ...]:
    first = first_result(record)
    if first is None or registration.at <= first:
        return ()
    by = _long(registration.at - first)
    sentence = (
        f"The plan was registered {by} after the first result, so it may have been shaped by what "
        "was seen: the trial counts as exploratory."
    )
    return (Deviation("late", sentence),)


def is_late(record: TrialRecord) -> bool:
    """Tell whether the plan was registered only after the first result."""
    return record.registration is not None and bool(_late(record, record.registration))


def _long(span: timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    for size, word in ((1440, "day"), (60, "hour"), (1, "minute")):
        many = minutes // size
        if many:
            return f"{many} {word}{'s' * (many > 1)}"
    return "some seconds"


def amended_places(amendments: tuple[Amendment, ...]) -> dict[str, str]:
    """Return what the amendments say stands now in each place that they change."""
    return {change.place: change.now for one in amendments for change in one.changes}


def untold_changes(
    registered: Registered, now: Registered, amendments: tuple[Amendment, ...]
) -> tuple[PlanChange, ...]:
    """Return the places that differ from what was registered and amended.

    ``was`` is what the last amendment said, or the plan where none spoke of the place.
    """
    told = amended_places(amendments)
    first: dict[str, str] = {}
    for one in amendments:
        for change in one.changes:
            first.setdefault(change.place, change.was)
    differing = {change.place: change for change in changes_between(registered, now)}
    found = [
        change.model_copy(update={"was": told.get(place, change.was)})
        for place, change in differing.items()
        if told.get(place) != change.now
    ]
    # An amendment changed these, and now they are as they were registered.
    found += [
        PlanChange(place=place, was=told[place], now=value)
        for place, value in first.items()
        if place not in differing and told[place] != value
    ]
    return tuple(found)


def _plan_deviations(
    registered: Registered, now: Registered, amendments: tuple[Amendment, ...]
) -> Iterator[Deviation]:
    untold = {change.place: change for change in untold_changes(registered, now, amendments)}
    for change in changes_between(registered, now):
        if change.place not in untold:
            yield Deviation("plan", change_sentence(change), told=True)
    for change in untold.values():
        yield Deviation("plan", change_sentence(change))


def change_sentence(change: PlanChange) -> str:
    """Say a change of the plan: where, from what to what."""
    return f"{change.place}: {_shown(change.was)} → {_shown(change.now)}."


def _shown(value: str) -> str:
    text = "nothing" if value == ABSENT else value.strip('"')
    return text if len(text) <= 80 else f"{text[:79]}…"


def _conduct(
    record: TrialRecord, plan: Plan | None, amendments: tuple[Amendment, ...]
) -> Iterator[Deviation]:
    """Yield what was done otherwise than the registered layout; amendments tell it by name."""
    layout = plan.layout if plan is not None else None
    if plan is None or layout is None:
        return
    said = " ".join(f"{one.what} {one.why}" for one in amendments)

    def found(piece: str, sentence: str) -> Deviation:
        return Deviation("conduct", sentence, told=f"'{piece}'" in said)

    names = {piece.id: piece.shown for piece in plan.at_hand.pieces}
    names |= {piece.id: piece.name for piece in record.pieces}
    arms = {arm.id: arm.name for arm in record.trial.arms}
    cooked = {piece.id: piece for piece in record.units}
    for slot in layout.slots:
        piece, name = cooked.get(slot.piece), names[slot.piece]
        if piece is None:
            continue
        if piece.arm != slot.arm:
            planned, got = arms.get(slot.arm, slot.arm), arms.get(piece.arm or "", piece.arm)
            yield found(slot.piece, f"{name} was to be “{planned}” and was “{got}”.")
        if slot.spot is not None and piece.spot is not None and piece.spot != slot.spot:
            where = f"{name} was to stand in {slot.spot.text} and stood in {piece.spot.text}."
            yield found(slot.piece, where)
    # A piece may still be to come, but not one whose cook was held without it.
    held = {slot.cook for slot in layout.slots if slot.piece in cooked}
    for slot in layout.slots:
        if slot.piece not in cooked and slot.cook in held:
            yield found(slot.piece, f"{names[slot.piece]} was planned and not cooked.")
    for handle in cooked:
        if layout.slot_of(handle) is None:
            yield found(handle, f"{names[handle]} was cooked and was not in the plan.")
    for exclusion in record.exclusions:
        if exclusion.piece is not None and not plan.leave_out:
            name = names.get(exclusion.piece, exclusion.piece)
            yield found(
                exclusion.piece,
                f"{name} was left out ({exclusion.why}); the plan named no reason to leave out.",
            )
