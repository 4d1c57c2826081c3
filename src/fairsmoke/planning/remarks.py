"""What would spoil the answer of a trial, said before anything is cooked, with the mend."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fairsmoke.design.draw import Wish, disturbances_of, draw_layout
from fairsmoke.design.errors import DesignError
from fairsmoke.design.estimability import Standing, freedoms
from fairsmoke.design.matching import misfits
from fairsmoke.trial.plan import Layout, Plan
from fairsmoke.trial.protocol import Place, Protocol, Stage
from fairsmoke.trial.question import TIMES, Arm, MeasureKind, Trial
from fairsmoke.trial.weighing import MeatState

_CLINGS = ("fat", "liquid", "slather", "rub")


@dataclass(frozen=True)
class Remark:
    """One thing that would spoil the answer: a code that stays, a sentence, and the mend."""

    code: str
    sentence: str
    mend: str

    @property
    def text(self) -> str:
        """Both in one line."""
        return f"{self.sentence} {self.mend}"


def remarks_of(trial: Trial, plan: Plan, wish: Wish | None = None) -> tuple[Remark, ...]:
    """Return everything that would spoil the answer, most basic first.

    Where nothing is drawn yet, a layout is drawn to look at: what no layout of these numbers can
    avoid shows in any.
    """
    found = [*_of_arms(trial), *_of_measures(trial), *_of_tasting(trial, plan)]
    layout = plan.layout
    if layout is None:
        try:
            layout = draw_layout(plan.at_hand, [arm.id for arm in trial.arms], 0, wish)
        except DesignError as error:
            message = str(error)
            found.append(Remark("no-layout", "No layout can be drawn.", _sentence(message)))
    if layout is not None:
        found += [*_of_layout(trial, plan, layout), *_of_pieces(plan, layout)]
    return tuple(found)


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}{'' if words.endswith('.') else '.'}"


def knobs_between(first: Protocol, second: Protocol) -> tuple[str, ...]:
    """Return in words what differs between two protocols, each kind of change once."""
    mine, theirs = ({s.id: s for s in p.stages} for p in (first, second))
    found: list[str] = []
    for handle in dict.fromkeys((*mine, *theirs)):
        one, other = mine.get(handle), theirs.get(handle)
        if one is None or other is None:
            named = one or other
            assert named is not None
            found.append(f"the stage “{named.name}”")
        else:
            found += _stage_knobs(one, other)
    return tuple(dict.fromkeys(found))


def _stage_knobs(one: Stage, other: Stage) -> Iterator[str]:
    where = "pit" if one.place is Place.COOKER else str(one.place)
    if one.place is not other.place:
        yield "where it is"
    elif one.surround_c != other.surround_c:
        yield f"the temperature of the {where}"
    if one.wrap != other.wrap:
        yield "the wrap"
    if one.humidity is not other.humidity:
        yield "the moisture of the air"
    if one.ends != other.ends:
        yield f"when “{one.name}” ends"
    for what in dict.fromkeys(added.what for added in (*one.adds, *other.adds)):
        if [a for a in one.adds if a.what == what] != [a for a in other.adds if a.what == what]:
            yield f"the {what} added"


def _of_arms(trial: Trial) -> Iterator[Remark]:
    protocols = {arm.id: trial.protocol_of(arm.id) for arm in trial.arms}
    for arm in trial.arms[1:]:
        others = [other for other in trial.arms if other is not arm]
        nearest = min(
            (knobs_between(protocols[other.id], protocols[arm.id]) for other in others), key=len
        )
        if len(nearest) > 1:
            yield Remark(
                "two-changes",
                f"“{arm.name}” differs from every other arm in {len(nearest)} things at once: "
                f"{_listed(nearest)}. Whatever comes out, nobody can say which of them did it.",
                "Change one thing, or add an arm that has only one of them.",
            )


def _of_measures(trial: Trial) -> Iterator[Remark]:
    protocols = [trial.protocol_of(arm.id) for arm in trial.arms]
    for measure in trial.measures:
        if measure.kind is MeasureKind.YIELD:
            yield from _of_yield(trial, measure.name, measure.state)
        if measure.kind in TIMES:
            fixed = [
                arm.name
                for arm, protocol in zip(trial.arms, protocols, strict=True)
                if measure.kind is MeasureKind.COOK_TIME and _time_is_set(protocol)
            ]
            if fixed:
                yield Remark(
                    "measure-disturbed",
                    f"The {measure.name.lower()} of {_listed([f'“{name}”' for name in fixed])} is "
                    "set by the clock in the protocol, so it cannot show a difference.",
                    "End the stages in the cooker by core or by feel, or measure something else.",
                )


def _time_is_set(protocol: Protocol) -> bool:
    own = [stage for stage in protocol.stages if stage.place is Place.COOKER]
    return all(
        end.elapsed_s is not None or end.clock is not None for stage in own for end in stage.ends
    )


def _of_yield(trial: Trial, name: str, state: MeatState) -> Iterator[Remark]:
    by_arm = {arm.id: trial.protocol_of(arm.id) for arm in trial.arms}
    added = {
        arm.id: {a.what for stage in by_arm[arm.id].stages for a in stage.adds if a.what in _CLINGS}
        for arm in trial.arms
    }
    for what in _CLINGS:
        having = [arm for arm in trial.arms if what in added[arm.id]]
        if having and len(having) < len(trial.arms):
            yield Remark(
                "measure-disturbed",
                f"Only {_names(having)} gets {what} added, and what of it clings to the piece is "
                f"weighed with it, so {name.lower()} would go up by it.",
                f"Weigh the {what} before it goes on and what is left in the wrap or tray, scrape "
                "the piece before it is weighed, or give it to every arm.",
            )
    wraps = {arm.id: _wraps(by_arm[arm.id]) for arm in trial.arms}
    wrapped = [arm for arm in trial.arms if wraps[arm.id]]
    if len({frozenset(found) for found in wraps.values()}) > 1 and wrapped:
        yield Remark(
            "measure-disturbed",
            f"{_names(wrapped)} is wrapped and holds juice in the wrap, which is neither lost nor "
            f"{state} meat.",
            "Weigh a dry wrap before, and the used wrap with its juice after, so that the ledger "
            "can tell them from the meat.",
        )


def _wraps(protocol: Protocol) -> set[str]:
    return {stage.wrap.text for stage in protocol.stages} - {"bare"}


def _of_tasting(trial: Trial, plan: Plan) -> Iterator[Remark]:
    scores = [m.name for m in trial.measures if m.kind is MeasureKind.SCORE]
    if not scores:
        return
    if plan.at_hand.tasters == 0:
        yield Remark(
            "no-tasters",
            f"{_listed(scores)} is scored, and nobody is there to taste.",
            "Say how many will taste, or leave the score out.",
        )
    if not plan.at_hand.blind:
        yield Remark(
            "tasters-know",
            "Tasters who know which sample is which score what they expect.",
            "Hand out coded samples in a drawn order, by someone who does not taste, and say so "
            "(blind: yes).",
        )


def _of_layout(trial: Trial, plan: Plan, layout: Layout) -> Iterator[Remark]:
    if any(piece.arm is not None for piece in plan.at_hand.pieces):
        yield Remark(
            "not-drawn",
            "The meat itself is what differs, so nobody can draw which piece gets which arm: "
            "whatever else comes with that meat (animal, age, supplier) comes with the arm.",
            "Buy the pieces of each arm from several animals and lots, and say what else differs.",
        )
    cooks = {slot.cook for slot in layout.slots}
    if len(cooks) == 1:
        yield Remark(
            "one-cook",
            "There is one cook only, so the answer is for that fire on that day.",
            "Spread the pieces over two cooks or more, each with every arm.",
        )
    yield from _tied(trial, layout)
    if layout.spare:
        names = {piece.id: piece.shown for piece in plan.at_hand.pieces}
        yield Remark(
            "spare-pieces",
            f"{_listed([names[piece] for piece in layout.spare])} would not be cooked: they fit "
            "in no set, or there is no room or cook left for them.",
            "Get pieces that match them, plan another cook, or draw the layout by search.",
        )


def _tied(trial: Trial, layout: Layout) -> Iterator[Remark]:
    present = [arm for arm in trial.arms if any(slot.arm == arm.id for slot in layout.slots)]
    ids = [arm.id for arm in present]
    arms = np.array([ids.index(slot.arm) for slot in layout.slots], dtype=np.intp)
    disturbances = disturbances_of(layout.slots)
    for one in freedoms(arms, len(present), disturbances):
        alone = np.all((disturbances[one.disturbance] > 0).sum(axis=0) <= 1)
        if one.standing is not Standing.TIED or (alone and len(arms) > len(present)):
            continue
        first, second = (present[number].name for number in one.arms)
        where = "a side of the cooker" if one.disturbance == "place" else f"a {one.disturbance}"
        yield Remark(
            f"tied-to-{one.disturbance}",
            f"“{first}” and “{second}” are each tied to {where} of their own: a difference may be "
            f"that of the {one.disturbance}.",
            "Cook a second pair with the sides exchanged, or let the pieces change places halfway "
            "through (--swap)."
            if one.disturbance == "place"
            else "Put every arm into every cook.",
        )


def _of_pieces(plan: Plan, layout: Layout) -> Iterator[Remark]:
    pieces = plan.at_hand.pieces
    place = {piece.id: number for number, piece in enumerate(pieces)}
    sets: dict[str, list[int]] = {}
    for slot in layout.slots:
        sets.setdefault(slot.block, []).append(place[slot.piece])
    drawn_in_sets = any(not block.startswith("cook-") for block in sets)
    halves = all(piece.half_of for piece in pieces)
    if drawn_in_sets:
        for found in misfits(pieces, list(sets.values())):
            yield Remark(
                "pieces-differ",
                f"Pieces of one set do not match. {found}.",
                "Trim the larger one, exchange it for a piece more like the other, or use halves "
                "of one piece.",
            )
    blank = all(_nothing_known(plan, number) for number in range(len(pieces)))
    if blank and not halves and len(pieces) > len(sets):
        yield Remark(
            "nothing-to-match",
            "Nothing is said by which the pieces could be matched.",
            "Say mass, thickness and grade of each piece.",
        )


def _nothing_known(plan: Plan, number: int) -> bool:
    piece = plan.at_hand.pieces[number]
    return piece.mass_kg is None and piece.thick_m is None and not piece.grade


def _names(arms: Sequence[Arm]) -> str:
    return _listed([f"“{arm.name}”" for arm in arms])


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
