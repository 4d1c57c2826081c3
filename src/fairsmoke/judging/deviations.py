"""What a trial did otherwise than its registered plan said: told beside every answer."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from fairsmoke.messages.message import N_, NN_, Message, Words
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
    sentence: Message
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
        sentence = N_(
            "What was registered cannot be compared with the trial: %(why)s.", why=str(error)
        )
        return (*late, Deviation("plan", sentence))
    now = Registered(record.trial, record.plan)
    plan = tuple(_plan_deviations(registered, now, registration.amendments))
    return (*late, *plan, *_conduct(record, registered.plan, registration.amendments))


def first_result(record: TrialRecord) -> datetime | None:
    """Return when the first thing was seen that could shape a plan; None when nothing was.

    That is an event, a reading, a ballot, a figure, or a weighing of meat that was cooked; what
    was weighed raw belongs to the planning. What has no time may have been seen as soon as its
    cook began.
    """
    begins = {cook.id: cook.starts for cook in record.cooks}
    cooks = {piece.id: piece.cook for piece in record.pieces}
    found = [event.at for event in record.events]
    found += [instant_of_ms(int(r.time_ms[0])) for r in record.readings.values() if len(r)]
    seen = [(ballot.at, ballot.cook) for ballot in record.ballots]
    seen += [(figure.at, cooks.get(figure.piece) or "") for figure in record.figures]
    for one in record.weighings:
        if any(p.kind is PartKind.MEAT and p.label not in _RAW for p in one.sum):
            seen.append((one.at, one.cook or cooks.get(one.piece or "") or ""))
    found += [at or begins[cook] for at, cook in seen if at is not None or cook in begins]
    return min(found, default=None)


def _late(record: TrialRecord, registration: Registration) -> tuple[Deviation, ...]:
    first = first_result(record)
    if first is None or registration.at <= first:
        return ()
    sentence = N_(
        "The plan was registered %(by)s after the first result, so it may have been shaped by what "
        "was seen: the trial counts as exploratory.",
        by=_long(registration.at - first),
    )
    return (Deviation("late", sentence),)


def is_late(record: TrialRecord) -> bool:
    """Tell whether the plan was registered only after the first result."""
    return record.registration is not None and bool(_late(record, record.registration))


def _long(span: timedelta) -> Message:
    minutes = int(span.total_seconds() // 60)
    if minutes >= 1440:
        return NN_("%(count)s day", "%(count)s days", minutes // 1440)
    if minutes >= 60:
        return NN_("%(count)s hour", "%(count)s hours", minutes // 60)
    if minutes:
        return NN_("%(count)s minute", "%(count)s minutes", minutes)
    return N_("some seconds")


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


def change_sentence(change: PlanChange) -> Message:
    """Say a change of the plan: where, from what to what."""
    was, now = _shown(change.was), _shown(change.now)
    return Message("%(place)s: %(was)s → %(now)s.", {"place": change.place, "was": was, "now": now})


def _shown(value: str) -> Words:
    text = value.strip('"')
    return N_("nothing") if value == ABSENT else text if len(text) <= 80 else f"{text[:79]}…"


def _conduct(
    record: TrialRecord, plan: Plan | None, amendments: tuple[Amendment, ...]
) -> Iterator[Deviation]:
    """Yield what was done otherwise than the registered layout; amendments tell it by name."""
    layout = plan.layout if plan is not None else None
    if plan is None or layout is None:
        return
    said = " ".join(f"{one.what} {one.why}" for one in amendments)

    def found(piece: str, sentence: Message) -> Deviation:
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
            was = N_(
                "%(piece)s was to be “%(planned)s” and was “%(got)s”.",
                piece=name,
                planned=planned,
                got=got or "",
            )
            yield found(slot.piece, was)
        if slot.spot is not None and piece.spot is not None and piece.spot != slot.spot:
            where = N_(
                "%(piece)s was to stand in %(planned)s and stood in %(got)s.",
                piece=name,
                planned=slot.spot.text,
                got=piece.spot.text,
            )
            yield found(slot.piece, where)
    # A piece may still be to come, but not one whose cook was held without it.
    held = {slot.cook for slot in layout.slots if slot.piece in cooked}
    for slot in layout.slots:
        if slot.piece not in cooked and slot.cook in held:
            left = N_("%(piece)s was planned and not cooked.", piece=names[slot.piece])
            yield found(slot.piece, left)
    for handle in cooked:
        if layout.slot_of(handle) is None:
            extra = N_("%(piece)s was cooked and was not in the plan.", piece=names[handle])
            yield found(handle, extra)
    for exclusion in record.exclusions:
        if exclusion.piece is not None and not plan.leave_out:
            name = names.get(exclusion.piece, exclusion.piece)
            yield found(
                exclusion.piece,
                N_(
                    "%(piece)s was left out (%(why)s); the plan named no reason to leave out.",
                    piece=name,
                    why=exclusion.why,
                ),
            )
