"""What would spoil the answer of a trial, found before anything is cooked.

Each thing found is a kind with its typed values; `fairsmoke.telling.plan` words it, with the mend.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import combinations
from typing import Any, NamedTuple

import numpy as np

from fairsmoke.design.draw import Wish, disturbances_of, draw_layout
from fairsmoke.design.errors import DesignError
from fairsmoke.design.estimability import Confounding, each_alone, freedoms
from fairsmoke.design.matching import misfits
from fairsmoke.trial.plan import Layout, LayoutKind, Plan
from fairsmoke.trial.protocol import Humidity, Place, Protocol, Stage
from fairsmoke.trial.question import TIMES, Arm, Measure, MeasureKind, Trial

_CLINGS = ("fat", "liquid", "slather", "rub")
_OF_THE_AIR = frozenset({Humidity.WATER_PAN, Humidity.STEAM})
"""What moistens the air of the whole cooker; a spritz or a sealed wrap stays with its piece."""

_UNEVEN = 0.5
"""Shares of two arms in one place may differ by so much before it is said."""


class RemarkKind(StrEnum):
    """What can spoil an answer; ``code_of`` gives the code that stays in files and options."""

    EQUAL_ARMS = "equal-arms"
    TWO_CHANGES = "two-changes"
    SHARED_AIR = "shared-air"
    TIED_TO_PLACE = "tied-to-place"
    TIED_TO_COOK = "tied-to-cook"
    UNEVEN_PLACES = "uneven-places"
    PIECES_DIFFER = "pieces-differ"
    NOTHING_TO_MATCH = "nothing-to-match"
    TIME_SET = "time-set"
    CLINGS = "clings"
    HOLDS_JUICE = "holds-juice"
    TASTERS_KNOW = "tasters-know"
    NO_TASTERS = "no-tasters"
    ONE_COOK = "one-cook"
    NOT_DRAWN = "not-drawn"
    SPARE_PIECES = "spare-pieces"
    NO_LAYOUT = "no-layout"


_DISTURBED = frozenset({RemarkKind.TIME_SET, RemarkKind.CLINGS, RemarkKind.HOLDS_JUICE})


@dataclass(frozen=True)
class Remark:
    """One thing that would spoil the answer, with the values that its words need."""

    kind: RemarkKind
    values: Mapping[str, Any] = field(default_factory=dict)

    @property
    def code(self) -> str:
        """The code for programs, which stays."""
        return "measure-disturbed" if self.kind in _DISTURBED else str(self.kind)


class Factor(NamedTuple):
    """One kind of thing in which two protocols differ.

    ``what`` is "stage", "place", "surround", "wrap", "humidity", "ends", "adds" or "note"; ``of``
    is the stage's name, the place whose temperature it is, or what is added.
    """

    what: str
    of: str = ""


def remarks_of(trial: Trial, plan: Plan, wish: Wish | None = None) -> tuple[Remark, ...]:
    """Return everything that would spoil the answer, most basic first.

    Where nothing is drawn yet, a layout is drawn to look at: what no layout of these numbers can
    avoid shows in any.
    """
    found = [*_of_arms(trial, plan), *_of_measures(trial), *_of_tasting(trial, plan)]
    layout = plan.layout
    if layout is None:
        try:
            layout = draw_layout(plan.at_hand, [arm.id for arm in trial.arms], 0, wish)
        except DesignError as error:
            found.append(Remark(RemarkKind.NO_LAYOUT, {"why": error.message}))
    if layout is not None:
        found += [*_of_layout(trial, plan, layout), *_of_pieces(plan, layout)]
    return tuple(found)


def factors_between(first: Protocol, second: Protocol) -> tuple[Factor, ...]:
    """Return what differs between two protocols, each kind of change once."""
    mine, theirs = ({s.id: s for s in p.stages} for p in (first, second))
    found: list[Factor] = []
    for handle in dict.fromkeys((*mine, *theirs)):
        one, other = mine.get(handle), theirs.get(handle)
        if one is not None and other is not None:
            found += _stage_factors(one, other)
        elif named := one or other:
            found.append(Factor("stage", named.name))
    return tuple(dict.fromkeys(found))


def _stage_factors(one: Stage, other: Stage) -> Iterator[Factor]:
    if one.place is not other.place:
        yield Factor("place")
    elif one.surround_c != other.surround_c:
        yield Factor("surround", str(one.place))
    for name in ("wrap", "humidity"):
        if getattr(one, name) != getattr(other, name):
            yield Factor(name)
    if one.ends != other.ends:
        yield Factor("ends", one.name)
    for what in dict.fromkeys(added.what for added in (*one.adds, *other.adds)):
        if [a for a in one.adds if a.what == what] != [a for a in other.adds if a.what == what]:
            yield Factor("adds", what)
    if one.note != other.note:
        yield Factor("note", one.name)


def equal_arms(trial: Trial, plan: Plan) -> tuple[Arm, Arm] | None:
    """Return two arms between which nothing differs, neither the protocol nor the meat; or None."""
    if any(piece.arm is not None for piece in plan.at_hand.pieces):
        return None
    for first, second in combinations(trial.arms, 2):
        if trial.protocol_of(first.id) == trial.protocol_of(second.id):
            return first, second
    return None


def _of_arms(trial: Trial, plan: Plan) -> Iterator[Remark]:
    if equal := equal_arms(trial, plan):
        yield Remark(RemarkKind.EQUAL_ARMS, {"arms": _names(equal)})
    protocols = {arm.id: trial.protocol_of(arm.id) for arm in trial.arms}
    for arm in trial.arms[1:]:
        others = [other for other in trial.arms if other is not arm]
        nearest = min(
            (factors_between(protocols[other.id], protocols[arm.id]) for other in others), key=len
        )
        if len(nearest) > 1:
            yield Remark(RemarkKind.TWO_CHANGES, {"arm": arm.name, "factors": nearest})


def _of_measures(trial: Trial) -> Iterator[Remark]:
    for measure in trial.measures:
        if measure.kind is MeasureKind.YIELD:
            yield from _of_yield(trial, measure)
        if measure.kind in TIMES:
            fixed = [
                arm
                for arm in trial.arms
                if measure.kind is MeasureKind.COOK_TIME and _time_is_set(trial.protocol_of(arm.id))
            ]
            if fixed:
                values = {"measure": measure.name, "arms": _names(fixed)}
                yield Remark(RemarkKind.TIME_SET, values)


def _time_is_set(protocol: Protocol) -> bool:
    own = [stage for stage in protocol.stages if stage.place is Place.COOKER]
    return all(
        end.elapsed_s is not None or end.clock is not None for stage in own for end in stage.ends
    )


def _of_yield(trial: Trial, measure: Measure) -> Iterator[Remark]:
    by_arm = {arm.id: trial.protocol_of(arm.id) for arm in trial.arms}
    added = {
        arm.id: {a.what for stage in by_arm[arm.id].stages for a in stage.adds}
        for arm in trial.arms
    }
    for what in _CLINGS:
        having = [arm for arm in trial.arms if what in added[arm.id]]
        if having and len(having) < len(trial.arms):
            values = {"arms": _names(having), "what": what, "measure": measure.name}
            yield Remark(RemarkKind.CLINGS, values)
    wraps = {arm.id: _wraps(by_arm[arm.id]) for arm in trial.arms}
    wrapped = [arm for arm in trial.arms if wraps[arm.id]]
    if len({frozenset(found) for found in wraps.values()}) > 1 and wrapped:
        values = {"arms": _names(wrapped), "state": str(measure.state)}
        yield Remark(RemarkKind.HOLDS_JUICE, values)


def _wraps(protocol: Protocol) -> set[str]:
    return {stage.wrap.text for stage in protocol.stages} - {"bare"}


def _of_tasting(trial: Trial, plan: Plan) -> Iterator[Remark]:
    scores = tuple(m.name for m in trial.measures if m.kind is MeasureKind.SCORE)
    if scores and plan.at_hand.tasters == 0:
        yield Remark(RemarkKind.NO_TASTERS, {"scores": scores})
    if scores and not plan.at_hand.blind:
        yield Remark(RemarkKind.TASTERS_KNOW)


def _of_layout(trial: Trial, plan: Plan, layout: Layout) -> Iterator[Remark]:
    if any(piece.arm is not None for piece in plan.at_hand.pieces):
        yield Remark(RemarkKind.NOT_DRAWN)
    yield from _shared_air(trial, layout)
    if len({slot.cook for slot in layout.slots}) == 1:
        yield Remark(RemarkKind.ONE_COOK)
    yield from _tied(trial, layout)
    if layout.spare:
        names = {piece.id: piece.shown for piece in plan.at_hand.pieces}
        spare = tuple(names[piece] for piece in layout.spare)
        yield Remark(RemarkKind.SPARE_PIECES, {"pieces": spare})


def _shared_air(trial: Trial, layout: Layout) -> Iterator[Remark]:
    """Find two arms with other moisture in the air that would stand in one cooker in one cook."""
    fires: dict[tuple[int, str], set[str]] = {}
    for slot in layout.slots:
        # Without places the cooker is not known: then it is taken that a cook has one fire.
        for spot in (slot.spot, *slot.then):
            fires.setdefault((slot.cook, spot.cooker if spot else ""), set()).add(slot.arm)
    shared = {
        pair
        for arms in fires.values()
        for pair in combinations([arm for arm in trial.arms if arm.id in arms], 2)
        if _airs_differ(*(trial.protocol_of(arm.id) for arm in pair))
    }
    for pair in sorted(shared, key=lambda pair: [trial.arms.index(arm) for arm in pair]):
        yield Remark(RemarkKind.SHARED_AIR, {"arms": _names(pair)})


def _airs_differ(first: Protocol, second: Protocol) -> bool:
    mine, theirs = (
        {stage.id: stage.humidity for stage in protocol.stages if stage.place is Place.COOKER}
        for protocol in (first, second)
    )
    return any(
        mine[stage] is not theirs[stage] and {mine[stage], theirs[stage]} & _OF_THE_AIR
        for stage in mine.keys() & theirs.keys()
    )


def _tied(trial: Trial, layout: Layout) -> Iterator[Remark]:
    present = [arm for arm in trial.arms if any(slot.arm == arm.id for slot in layout.slots)]
    ids = [arm.id for arm in present]
    arms = np.array([ids.index(slot.arm) for slot in layout.slots], dtype=np.intp)
    disturbances = disturbances_of(layout.slots)
    for one in freedoms(arms, len(present), disturbances):
        shares = disturbances[one.disturbance]
        alone = each_alone(shares) and len(arms) > len(present)
        wholes = layout.kind is LayoutKind.WHOLE_COOKS and one.disturbance == "cook"
        if alone or wholes or one.disturbance not in ("place", "cook"):
            continue
        values = {"arms": _names([present[number] for number in one.arms])}
        if one.confounding is Confounding.COMPLETE:
            yield Remark(RemarkKind(f"tied-to-{one.disturbance}"), values)
        elif (
            one.disturbance == "place" and one.leans > _UNEVEN and layout.kind is LayoutKind.SEARCH
        ):
            yield Remark(RemarkKind.UNEVEN_PLACES, values)


def _of_pieces(plan: Plan, layout: Layout) -> Iterator[Remark]:
    pieces = plan.at_hand.pieces
    place = {piece.id: number for number, piece in enumerate(pieces)}
    sets: dict[str, list[int]] = {}
    for slot in layout.slots:
        sets.setdefault(slot.block, []).append(place[slot.piece])
    if any(not block.startswith("cook-") for block in sets):
        for own, apart in misfits(pieces, list(sets.values())):
            yield Remark(RemarkKind.PIECES_DIFFER, {"pieces": tuple(own), "apart": tuple(apart)})
    blank = all(p.mass_kg is None and p.thick_m is None and not p.grade for p in pieces)
    halves = all(piece.half_of for piece in pieces)
    if blank and not halves and len(pieces) > len(sets):
        yield Remark(RemarkKind.NOTHING_TO_MATCH)


def _names(arms: Sequence[Arm]) -> tuple[str, ...]:
    return tuple(arm.name for arm in arms)
