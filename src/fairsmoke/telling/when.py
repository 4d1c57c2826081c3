"""The plan of a day: its steps in words, and what there is to say of it, for every face.

The page, the terminal, the run sheet and the calendar say the same messages. Times are instants in
the zone of the day; each reader has them by their own clock.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, groupby
from typing import Any

from fairsmoke.messages.message import N_, NN_, Listed, Message, Words
from fairsmoke.planning.day.adjustments import CORE_STEP_K
from fairsmoke.planning.day.advice import ArmGap, HoldGap, TurningPoint
from fairsmoke.planning.day.day_plan import AdjustmentEffect, DayPlan
from fairsmoke.planning.day.safety import SafetyNote
from fairsmoke.planning.day.schedule import PiecePlan, TimeInterval
from fairsmoke.planning.day.steps import HandsOnStep, Run, StepKind
from fairsmoke.quantity.values import (
    Duration,
    Instant,
    Length,
    Number,
    Temperature,
    TemperatureDifference,
)
from fairsmoke.telling import blocks
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.blocks import Block, Section
from fairsmoke.telling.field_labels import NEVER
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.record_words import PLACES_OF_STAGES, wrap_message
from fairsmoke.telling.safety_notes import DEFER, gathered, note_words, stage_words
from fairsmoke.telling.when_start import change_blocks, effect_blocks, night_words, variation_words

POINT_S = 60.0
"""An interval shorter than that is a point; a difference smaller than that is none."""
TENDING = frozenset({StepKind.FUEL, StepKind.WATER})
_DIFFERS = {
    "own": N_("the stage “%(stage)s” itself"),
    "surround_c": N_("the pit temperature in “%(stage)s”"),
    "wrap": N_("the wrap in “%(stage)s”"),
    "humidity": N_("the moisture in “%(stage)s”"),
    "place": N_("the place in “%(stage)s”"),
    "ends": N_("what ends “%(stage)s”"),
    "adds": N_("what is added in “%(stage)s”"),
}


@dataclass(frozen=True)
class DayStep:
    """A hands-on step of the day in words.

    ``due`` is what tells that it is due, whatever the clock says; ``between`` when 90 of 100
    simulated days have it. ``lasts_s`` is how long hands are busy with it.
    """

    at_s: float
    what: Message
    lasts_s: float
    due: Message | None = None
    between: Message | None = None

    @property
    def line(self) -> Message:
        """What is to be done and what tells that it is due."""
        if self.due is None:
            return self.what
        return N_("%(what)s, %(due)s", what=self.what, due=self.due)


def day_steps(plan: DayPlan) -> list[DayStep]:
    """Return every step from lighting to serving in order of time, but for fuel and water."""
    minutes = plan.plan.asked.minutes
    found = [
        DayStep(note.at_s, N_("%(cooker)s: light the fire", cooker=note.cooker), minutes.light_s)
        for note in plan.plan.reminders
        if note.kind is StepKind.LIGHT
    ]
    for one in plan.plan.pieces:
        name = one.piece.name
        for step in one.steps:
            kind, due = step.step.kind, step.due
            point = kind is StepKind.ON or due.high_s - due.low_s < POINT_S
            words = step_message(one, step.step)
            between = None if point else clocks(plan, due)
            ends = _ends(one.piece.run, step.step)
            found.append(DayStep(step.planned_s, words, minutes.of(kind), ends, between))
        if one.piece.run.hold is None:
            opened = N_("%(piece)s: open it, let it rest", piece=name)
        else:
            opened = N_("%(piece)s: take it out of the hold, open it, let it rest", piece=name)
        found.append(DayStep(one.open_s, opened, minutes.open_s))
        found.append(DayStep(one.slice_s, N_("%(piece)s: slice", piece=name), minutes.slice_s))
    return [*sorted(found, key=lambda one: one.at_s), DayStep(0.0, N_("Serve"), 900.0)]


def step_message(one: PiecePlan, step: HandsOnStep) -> Message:
    """Return what hands do at a step of a piece."""
    piece, then = one.piece.name, step.then
    pit = None if step.to_c is None else Temperature(step.to_c)
    place = "" if then is None else PLACES_OF_STAGES[then.place]
    match step.kind:
        case StepKind.ON:
            where = ", ".join(name for name in (one.piece.cooker, one.piece.place) if name)
            if pit is None:
                return N_("%(piece)s: put on (%(where)s)", piece=piece, where=where)
            return N_(
                "%(piece)s: put on (%(where)s), pit at %(pit)s", piece=piece, where=where, pit=pit
            )
        case StepKind.RAISE:
            return N_("%(piece)s: raise the pit to %(pit)s", piece=piece, pit=pit)
        case StepKind.LOWER:
            return N_("%(piece)s: lower the pit to %(pit)s", piece=piece, pit=pit)
        case StepKind.MOVE:
            return N_("%(piece)s: move it (%(place)s)", piece=piece, place=place)
        case StepKind.UNWRAP:
            return N_("%(piece)s: unwrap", piece=piece)
        case StepKind.WRAP:
            assert then is not None
            adds = Listed([add.name for add in then.adds])
            wrap = wrap_message(then.wrap)
            if not step.wraps:
                return N_("%(piece)s: add %(adds)s", piece=piece, adds=adds)
            if then.adds:
                return N_(
                    "%(piece)s: wrap (%(wrap)s), add %(adds)s", piece=piece, wrap=wrap, adds=adds
                )
            return N_("%(piece)s: wrap (%(wrap)s)", piece=piece, wrap=wrap)
        case _ if then is None:
            return N_("%(piece)s: pull, off to rest", piece=piece)
        case _:
            return N_("%(piece)s: pull, into the hold (%(place)s)", piece=piece, place=place)


def _ends(run: Run, step: HandsOnStep) -> Message | None:
    """Return what tells that a step is due; None for putting on."""
    if step.ends_stage < 0:
        return None
    ends = run.before[step.ends_stage].ends
    core_c = next((end.core_c for end in ends if end.core_c is not None), None)
    feel = next((end.feel for end in ends if end.feel is not None), None)
    after_s = next((end.elapsed_s for end in ends if end.elapsed_s is not None), None)
    if core_c is not None and feel is not None:
        core = Temperature(core_c)
        return N_("due at core %(core)s, or when it is “%(feel)s”", core=core, feel=feel)
    if core_c is not None:
        return N_("due at core %(core)s", core=Temperature(core_c))
    if feel is not None:
        return N_("due when it is “%(feel)s”", feel=feel)
    if after_s is None:
        return None
    return N_("due %(after)s after the step before", after=Duration(after_s, rough=True))


def tending(plan: DayPlan) -> list[tuple[StepKind, str, list[float]]]:
    """Return the times of fuel and of water by cooker, seconds from serving."""
    found: dict[tuple[StepKind, str], list[float]] = {}
    for note in plan.plan.reminders:
        if note.kind in TENDING:
            found.setdefault((note.kind, note.cooker), []).append(note.at_s)
    return [(kind, cooker, times) for (kind, cooker), times in found.items()]


def clock(plan: DayPlan, seconds: float) -> Instant | Message:
    """Return weekday and time of day so many seconds from serving."""
    if not math.isfinite(seconds):
        return NEVER
    return Instant(plan.at(seconds), "day time", plan.day.zone)


def clocks(plan: DayPlan, span: TimeInterval) -> Message:
    """Return an interval of times of day."""
    return N_("%(first)s to %(last)s", first=clock(plan, span.low_s), last=clock(plan, span.high_s))


def lengths(low_s: float, high_s: float) -> Message:
    """Return an interval of lengths of time."""
    return N_("%(least)s to %(most)s", least=_rough(low_s), most=_rough(high_s))


def _rough(seconds: float) -> Duration:
    return Duration(seconds, rough=True)


def when_sections(plan: DayPlan) -> dict[str, Section]:
    """Return what there is to say of a day, by the name of each part."""
    parts = {
        "served": Section(_served(plan), list(_summary(plan))),
        "change": Section(N_("What would make it possible"), list(change_blocks(plan))),
        "day": Section(N_("The day, for one pair of hands"), list(_day(plan))),
        "pieces": Section(N_("Each piece, and the hold as buffer"), list(_pieces(plan))),
        "differ": Section(N_("What differs between the arms"), list(_arms(plan))),
        "late": Section(N_("If it runs late or early"), list(_adjustments(plan))),
        "start": Section(N_("What the start rests on"), list(effect_blocks(plan))),
        "tables": Section(N_("Against the published tables"), list(_tables(plan))),
        "given": Section(N_("Taken as given"), [blocks.items([*assumed(plan), _hands(plan)])]),
    }
    return {name: part for name, part in parts.items() if part.blocks}


def when_text(plan: DayPlan, reader: Reader) -> str:
    """Return the plan of a day as text for a terminal."""
    title: Words = plan.day.sides.title
    if plan.day.invented:
        title = N_("%(title)s (invented)", title=title)
    return f"{reader.say(title)}\n\n{document_text(list(when_sections(plan).values()), reader)}"


def _served(plan: DayPlan) -> Message:
    zone = plan.day.zone
    day, time = (Instant(plan.day.serve, form, zone) for form in ("long day", "time"))
    return N_("Served %(day)s, %(time)s", day=day, time=time)


def _summary(plan: DayPlan) -> Iterator[Block]:
    found, certainty = plan.plan, plan.plan.asked.certainty
    values = {"ready": round(100 * found.ready), "asked": round(100 * certainty)}
    if len(found.pieces) == 2:
        words = N_(
            "Both pieces are ready in time in %(ready)s of 100 simulated days (asked: %(asked)s).",
            **values,
        )
    else:
        words = NN_(
            "%(count)s piece is ready in time in %(ready)s of 100 simulated days "
            "(asked: %(asked)s).",
            "All %(count)s pieces are ready in time in %(ready)s of 100 simulated days "
            "(asked: %(asked)s).",
            len(found.pieces),
            **values,
        )
    yield blocks.text(words)
    if plan.buffer.within < certainty:
        days = round(100 * plan.buffer.within)
        words = N_(
            "Ready, and no hold longer than its longest, on only %(days)s of 100 days: read why "
            "before you light.",
            days=days,
        )
        yield blocks.strong(words, to="pieces")
    warned = sum(note.warns for note, _ in gathered(plan.safety))
    if warned:
        words = NN_(
            "%(count)s line of the published tables warns.",
            "%(count)s lines of the published tables warn.",
            warned,
        )
        yield blocks.strong(words, to="tables")
    night = night_words(plan)
    if night is not None:
        yield blocks.strong(night)
    yield blocks.text(variation_words(plan))
    yield blocks.small(N_("All times are those of %(zone)s.", zone=plan.day.zone.key))


def _day(plan: DayPlan) -> Iterator[Block]:
    yield blocks.small(
        N_(
            "Planned times; below them when 90 of 100 simulated days have it. Go by thermometer "
            "and probe, not by the clock."
        )
    )
    zone = plan.day.zone
    dates = groupby(day_steps(plan), lambda one: plan.at(one.at_s).astimezone(zone).date())
    for _, steps in dates:
        rows = [(plan.at(one.at_s), one) for one in steps]
        yield blocks.timeline(
            Instant(rows[0][0], "long day", zone),
            [(Instant(at, "time", zone), one.what, _more(one)) for at, one in rows],
        )
    for kind, cooker, times in tending(plan):
        words = N_(
            "%(cooker)s: %(what)s, %(times)s times, %(first)s to %(last)s",
            cooker=cooker,
            what=Message(kind),
            times=len(times),
            first=clock(plan, times[0]),
            last=clock(plan, times[-1]),
        )
        yield blocks.folded(
            words, [blocks.times([Instant(plan.at(at), "time", plan.day.zone) for at in times])]
        )


def _more(step: DayStep) -> list[Message]:
    between = step.between
    if between is not None:
        between = N_("90 of 100 days: %(between)s", between=between)
    return [words for words in (step.due, between) if words is not None]


def _pieces(plan: DayPlan) -> Iterator[Block]:
    cards = []
    for one in plan.plan.pieces:
        where = ", ".join(name for name in (one.piece.cooker, one.piece.place) if name)
        off = {"middle": clock(plan, one.pull.middle_s), "between": clocks(plan, one.pull)}
        held = {
            "middle": _rough(one.hold.middle_s),
            "between": lengths(one.hold.low_s, one.hold.high_s),
        }
        if one.piece.run.hold is None:
            hold = N_("%(middle)s (%(between)s) on the counter", **held)
        else:
            hold = N_("%(middle)s (%(between)s)", **held)
        of_days = N_("%(days)s of 100 days", days=round(100 * one.ready))
        pairs: list[tuple[Words, Any]] = [
            (N_("Arm"), one.piece.arm_name),
            (N_("Place"), where),
            (N_("On"), clock(plan, one.on_s)),
            (N_("Off"), N_("%(middle)s (%(between)s)", **off)),
            (N_("Held"), hold),
            (N_("Allowed"), lengths(one.hold_shortest_s, one.hold_longest_s)),
            (N_("In time"), of_days),
            (N_("Held too long"), N_("%(days)s of 100 days", days=round(100 * one.too_long))),
        ]
        cards.append((one.piece.name, pairs))
    yield blocks.cards(cards)
    if plan.buffer.within < plan.plan.asked.certainty:
        yield blocks.strong(_buffer(plan))


def _buffer(plan: DayPlan) -> Message:
    buffer, move = plan.buffer, _rough(abs(plan.buffer.move_s))
    later = N_("%(time)s later", time=move)
    return N_(
        "The hold does not bridge the spread: every piece is ready and no hold passes its "
        "longest in only %(within)s of 100 days. That would take a longest hold of "
        "%(needed)s. With the longest as given the best start is %(move)s, and even "
        "that keeps both in %(best)s of 100 days. Give the stages a longest time, or plan "
        "on turning the pit as below.",
        within=round(100 * buffer.within),
        needed=_rough(buffer.needed_s),
        move=later if buffer.move_s >= 0 else N_("%(time)s earlier", time=move),
        best=round(100 * buffer.best),
    )


def _arms(plan: DayPlan) -> Iterator[Block]:
    found = [_arm(gap) for gap in plan.arms]
    if plan.holds and plan.plan.asked.together:
        found.append(
            N_(
                "All go on at once, so the quicker arm holds longer, and a difference found may be "
                "the hold's. To keep holds equal: put pieces on at their own times, or open each "
                "piece the same time after its own pull, and serve or measure it then."
            )
        )
    elif plan.holds:
        found.append(
            N_(
                "Each piece goes on at its own time, so that the middle of the holds is the same. "
                "What the day then does remains; to keep holds equal in fact, open each piece the "
                "same time after its own pull, and measure it then."
            )
        )
    found += [_hold_gap(one) for one in plan.holds]
    found += remarks(plan)
    if found:
        yield blocks.items(found)


def remarks(plan: DayPlan) -> list[Message]:
    """Return what does not fit together in the day."""
    found = [
        N_(
            "%(one)s and %(other)s stand in one cooker (%(cooker)s), but their arms want "
            "unlike pit temperatures, and one cooker has one at a time: give each arm its own "
            "cooker, or its own cook.",
            one=one.piece,
            other=one.other,
            cooker=one.cooker,
        )
        for one in plan.conflicts
    ]
    if plan.unlike_holds:
        found.append(
            N_("The arms' protocols hold for unlike times: what differs is the hold as well.")
        )
    return found


def differs_words(gap: ArmGap) -> Words:
    """Return what differs before the hold."""
    if not gap.differs:
        return N_("nothing before the hold")
    return Listed([Message(_DIFFERS[what].text, {"stage": stage}) for what, stage in gap.differs])


def _arm(gap: ArmGap) -> Message:
    middle = gap.longer.middle_s
    if abs(middle) < POINT_S:
        return N_("%(arm)s: as long as %(base)s in the middle", arm=gap.arm, base=gap.base)
    return N_(
        "%(arm)s: %(longer)s than %(base)s on the same pieces (%(between)s), most of it in "
        "“%(stage)s”. What differs: %(differs)s",
        arm=gap.arm,
        base=gap.base,
        longer=_longer(middle),
        between=_on_its_side(gap.longer),
        stage=gap.stage,
        differs=differs_words(gap),
    )


def _longer(seconds: float) -> Message:
    """Return how much longer, or shorter, something is."""
    time = _rough(abs(seconds))
    return N_("%(time)s longer", time=time) if seconds >= 0 else N_("%(time)s shorter", time=time)


def _on_its_side(span: TimeInterval) -> Message:
    """Return an interval in the sense of its middle: of how much sooner where that says sooner."""
    if span.middle_s >= 0:
        return lengths(span.low_s, span.high_s)
    return lengths(-span.high_s, -span.low_s)


def _hold_gap(one: HoldGap) -> Message:
    return N_(
        "%(piece)s is held %(longer)s than %(other)s in the middle; the difference is "
        "%(between)s (− is shorter)",
        piece=one.piece,
        other=one.other,
        longer=_longer(one.longer.middle_s),
        between=lengths(one.longer.low_s, one.longer.high_s),
    )


def _adjustments(plan: DayPlan) -> Iterator[Block]:
    turning = chain.from_iterable(_turning(plan, point) for point in plan.turning)
    yield blocks.items([*turning, *(_window(plan, one) for one in plan.plan.pieces)])
    for when, words in (
        ("late", N_("When it runs late")),
        ("early", N_("When it runs early")),
    ):
        mine = [one for one in plan.adjustments if one.adjustment.when == when]
        if mine:
            yield blocks.heading(words)
            yield blocks.items([_effect(one) for one in mine])
    if plan.adjustments:
        yield blocks.small(
            N_(
                "By the model's own draws. What is done to one arm alone is a difference between "
                "the arms: do it to all, or write it down."
            )
        )


def _turning(plan: DayPlan, point: TurningPoint) -> Iterator[Message]:
    values = {"piece": point.piece, "stage": point.stage}
    if point.latest_s is not None:
        yield N_(
            "%(piece)s: if “%(stage)s” ends after %(late)s, it is more likely late than not: act",
            late=clock(plan, point.latest_s),
            **values,
        )
    if point.earliest_s is not None:
        yield N_(
            "%(piece)s: if “%(stage)s” ends before %(early)s, its hold is more likely too long "
            "than not: cool the pit",
            early=clock(plan, point.earliest_s),
            **values,
        )


def _window(plan: DayPlan, one: PiecePlan) -> Message:
    return N_(
        "%(piece)s: off before %(early)s is too early (it can be held up to %(longest)s); "
        "off after %(late)s is too late",
        piece=one.piece.name,
        longest=_rough(one.hold_longest_s),
        early=clock(plan, one.open_s - one.hold_longest_s),
        late=clock(plan, one.open_s - one.hold_shortest_s),
    )


def adjustment_words(one: AdjustmentEffect) -> Message:
    """Return what is done."""
    stage, to_c = one.adjustment.stage, one.adjustment.to_c
    pit = None if to_c is None else Temperature(to_c)
    match one.adjustment.kind:
        case "hotter":
            return N_("from “%(stage)s” on, the pit at %(pit)s", stage=stage, pit=pit)
        case "cooler":
            return N_("from “%(stage)s” on, the pit only at %(pit)s", stage=stage, pit=pit)
        case "foil":
            return N_("foil all round from “%(stage)s” on", stage=stage)
        case _:
            gap = TemperatureDifference(CORE_STEP_K, 0)
            return N_("wrap %(gap)s of core sooner", gap=gap)


def _effect(one: AdjustmentEffect) -> Message:
    time, later = _rough(abs(one.longer.middle_s)), one.longer.middle_s > 0
    return N_(
        "%(arm)s: %(what)s: %(longer)s (%(between)s), %(kept)s",
        arm=one.arm,
        what=adjustment_words(one),
        longer=N_("%(time)s later", time=time) if later else N_("%(time)s sooner", time=time),
        between=_on_its_side(one.longer),
        kept=_kept(one.kept),
    )


def _kept(kept: float) -> Message:
    """Return a change of yield to half a point: it has no interval of its own here."""
    halves = 0.5 * round(200.0 * kept)
    points = Number(abs(halves))
    if halves == 0.0:
        return N_("yield about the same")
    if halves > 0.0:
        return N_("yield %(points)s points more", points=points)
    return N_("yield %(points)s points less", points=points)


def _tables(plan: DayPlan) -> Iterator[Block]:
    yield blocks.strong(DEFER)
    notes = gathered(plan.safety)
    warned = [_note(*one) for one in notes if one[0].warns]
    if warned:
        yield from chain.from_iterable(warned)
    else:
        yield blocks.text(N_("No figure of this plan passes a limit of these tables."))
    others = [_note(*one) for one in notes if not one[0].warns]
    if others:
        words = N_("What else the tables say")
        yield blocks.folded(words, list(chain.from_iterable(others)))


def _note(note: SafetyNote, names: list[str]) -> list[Block]:
    values = {"pieces": Listed(names), "stage": stage_words(note)}
    head = (
        N_("Warning: %(pieces)s, %(stage)s", **values)
        if note.warns
        else N_("%(pieces)s, %(stage)s", **values)
    )
    return [
        blocks.strong(head) if note.warns else blocks.heading(head),
        blocks.items(note_words(note)),
        blocks.small(N_("Read in: %(table)s", table=note.table)),
    ]


def assumed(plan: DayPlan) -> list[Words]:
    """Return what was taken as given."""
    found: list[Words] = [
        N_(
            "%(piece)s: %(long)s by %(wide)s, guessed from its mass and thickness; "
            "%(start)s when it goes on",
            piece=one.name,
            long=Length(one.piece.length_m, 0),
            wide=Length(one.piece.width_m, 0),
            start=Temperature(one.piece.start_c),
        )
        for one in plan.day.sides.pieces
        if one.id in plan.day.guessed
    ]
    if plan.day.hold_c is not None:
        found.append(
            N_(
                "a hold in a cabinet at %(hold)s, which no protocol of this trial has: for all "
                "arms alike, and written down as a change",
                hold=Temperature(plan.day.hold_c),
            )
        )
    found += plan.day.notes
    stages = chain.from_iterable(arm.protocol.stages for arm in plan.day.sides.arms)
    feels = [end.feel for stage in stages for end in stage.ends if end.feel is not None]
    tender = Temperature(plan.day.sides.pieces[0].conditions.tender_c)
    found += [
        N_("“%(feel)s” is taken to be when the core is at %(core)s", feel=feel, core=tender)
        for feel in dict.fromkeys(feels)
    ]
    return found


def _hands(plan: DayPlan) -> Message:
    asked, minutes = plan.plan.asked, plan.plan.asked.minutes
    return N_(
        "One pair of hands: %(on)s min to put on, %(wrap)s to wrap, %(pull)s to pull and "
        "weigh, %(slice)s to slice a piece; %(heat)s to heat a cooker; opened %(rest)s "
        "before it is sliced (common practice, no source).",
        on=round(minutes.on_s / 60),
        wrap=round(minutes.wrap_s / 60),
        pull=round(minutes.pull_s / 60),
        slice=round(minutes.slice_s / 60),
        heat=_rough(asked.heat_up_s),
        rest=_rough(asked.rest_s),
    )
