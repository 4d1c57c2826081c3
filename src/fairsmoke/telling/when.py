"""The plan of a day as text for a terminal and as JSON."""

from collections.abc import Iterator
from functools import partial
from typing import Any

from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.safety import DEFER, SafetyNote
from fairsmoke.planning.day.schedule import PiecePlan, Span
from fairsmoke.planning.day.steps import Run, Step, StepKind
from fairsmoke.planning.day.time_errors import NO_MORE
from fairsmoke.quantity import METRIC, US, show_duration, show_temperature
from fairsmoke.telling.lines import wrapped
from fairsmoke.telling.numbers import show_clock, show_moment

FORM = 1
"""Raised when a key of the JSON changes its meaning or goes away."""
_BAR_STEP_S, _NEVER = 900.0, "no end in sight"

_item = partial(wrapped, indent="  ", hang="  ")


def when_text(told: DayPlan) -> str:
    """Return the plan of a day in plain words, lines of about ``lines.WIDTH`` letters."""
    lines = [*_heading(told), "", "THE DAY", *_timeline(told)]
    for title, part in (
        ("THE HOLD AS BUFFER", _buffer(told)),
        ("WHAT DIFFERS BETWEEN THE ARMS", _arms(told)),
        ("IF IT RUNS LATE OR EARLY", _levers(told)),
        ("AGAINST THE PUBLISHED TABLES", _safety(told)),
        ("TAKEN AS GIVEN", _assumed(told)),
    ):
        found = list(part)
        if found:
            lines += ["", title, *found]
    return "\n".join(lines)


def _heading(told: DayPlan) -> Iterator[str]:
    plan = told.plan
    yield told.day.sides.title + (" (invented)" if told.day.invented else "")
    count = len(plan.pieces)
    who = "The piece is" if count == 1 else f"{'Both' if count == 2 else f'All {count}'} pieces are"
    yield from wrapped(
        f"Served {show_moment(told.day.serve, told.day.zone)} ({told.day.zone.key}). "
        f"{who} ready in time in {100 * plan.ready:.0f} of 100 simulated "
        f"days (asked: {100 * plan.asked.certainty:.0f}). Times as 'middle (90 % of days)'.",
        hang="  ",
    )
    if told.buffer.within < plan.asked.certainty:
        yield from wrapped(
            f"! Ready, and no hold longer than its longest, on only {100 * told.buffer.within:.0f} "
            "of 100 days: read THE HOLD AS BUFFER before you light",
            hang="  ",
        )
    warned = sum(note.warns for note in told.safety)
    if warned:
        lines = "one line warns" if warned == 1 else f"{warned} lines warn"
        yield from wrapped(f"! AGAINST THE PUBLISHED TABLES {lines}", hang="  ")
    if told.scatter != NO_MORE:
        yield from wrapped(
            f"Real pits scatter more than the model: its times are spread by another factor of "
            f"{_factor(told)} up or down (standard deviations of the logarithm: "
            f"{told.scatter.shared:.2f} for a cooker's day, {told.scatter.own:.2f} for a piece).",
            hang="  ",
        )


def _factor(told: DayPlan) -> str:
    total = (told.scatter.shared**2 + told.scatter.own**2) ** 0.5
    return f"{2.718281828**total:.2f}"


def clock_of(told: DayPlan, seconds: float, clock: str = "24") -> str:
    """Return the weekday and clock time so many seconds from serving: "Sat 23:40"."""
    if abs(seconds) == float("inf"):
        return _NEVER
    at = told.at(seconds)
    return f"{at.astimezone(told.day.zone):%a} {show_clock(at, told.day.zone, clock)}"


def span_of(told: DayPlan, due: Span, clock: str = "24") -> str:
    """Return an interval of clock times: "Sat 20:10 to Sun 02:15"; nothing when it is a point."""
    if due.high_s - due.low_s < 60.0:
        return ""
    return f"{clock_of(told, due.low_s, clock)} to {clock_of(told, due.high_s, clock)}"


def day_rows(told: DayPlan, clock: str = "24") -> list[tuple[float, str, str, StepKind]]:
    """Return every piece's steps in order of time: seconds, what to do, the interval, kind."""
    rows = []
    for one in told.plan.pieces:
        for mark in one.marks:
            fixed = mark.step.kind is StepKind.ON
            rows.append(
                (
                    mark.planned_s,
                    f"{mark.step.words}{_tells(one.piece.run, mark.step)}",
                    "" if fixed else span_of(told, mark.due, clock),
                    mark.step.kind,
                )
            )
        name = one.piece.name
        opened = "open" if one.piece.run.hold is not None else "start the last rest"
        rows.append((one.open_s, f"{name}: {opened}, let rest", "", StepKind.OPEN))
        rows.append((one.slice_s, f"{name}: slice", "", StepKind.SLICE))
    rows += [
        (note.at_s, f"{note.cooker}: light the fire", "", note.kind)
        for note in told.plan.reminders
        if note.kind is StepKind.LIGHT
    ]
    return sorted(rows, key=lambda row: row[0])


def _tells(run: Run, step: Step) -> str:
    """Return what tells that a step is due, whatever the clock says; a sheet is for both units."""
    if step.kind is StepKind.ON:
        return "" if step.to_c is None else f", pit {_both(step.to_c)}"
    said = "" if step.to_c is None else f" to {_both(step.to_c)}"
    ends = []
    for end in run.before[step.ends_stage].ends:
        if end.core_c is not None:
            ends.append(f"at core {_both(end.core_c)}")
        elif end.feel:
            ends.append(f"when {end.feel}")
    if not ends:
        ends = [
            f"{hours(end.elapsed_s)} after the step before"
            for end in run.before[step.ends_stage].ends
            if end.elapsed_s is not None
        ]
    return f"{said}, {' or '.join(ends)}" if ends else said


def _both(temperature_c: float) -> str:
    celsius, fahrenheit = (show_temperature(temperature_c, units) for units in (METRIC, US))
    return f"{celsius} ({fahrenheit})"


def reminder_times(told: DayPlan) -> dict[tuple[str, str], list[float]]:
    """Return the times of fuel and water by (kind, cooker), seconds from serving."""
    found: dict[tuple[str, str], list[float]] = {}
    for note in told.plan.reminders:
        if note.kind is not StepKind.LIGHT:
            found.setdefault((str(note.kind), note.cooker), []).append(note.at_s)
    return found


def _timeline(told: DayPlan) -> Iterator[str]:
    for seconds, words, interval, _ in day_rows(told):
        between = f" ({interval})" if interval else ""
        yield from _item(f"{clock_of(told, seconds)}  {words}{between}")
    yield f"  {clock_of(told, 0.0)}  serve"
    for (kind, cooker), times in reminder_times(told).items():
        first, last = clock_of(told, times[0]), clock_of(told, times[-1])
        yield from _item(f"{cooker}: {kind}, {len(times)} reminders from {first} to {last}")


def hours(seconds: float) -> str:
    """Return a length to the quarter of an hour, "3 h 15 min"; minutes when short."""
    if not abs(seconds) < float("inf"):
        return _NEVER
    step = _BAR_STEP_S if abs(seconds) >= 4 * _BAR_STEP_S else 60.0
    return show_duration(step * round(seconds / step))


def _buffer(told: DayPlan) -> Iterator[str]:
    for one in told.plan.pieces:
        yield from _item(_hold_words(one))
    buffer, plan = told.buffer, told.plan
    if buffer.within < plan.asked.certainty:
        yield from _item(
            f"The hold does not bridge the spread: every piece is ready and no hold passes its "
            f"longest in only {100 * buffer.within:.0f} of 100 days. That would take a longest "
            f"hold of {hours(buffer.needed_s)}. With the longest as given the best start is "
            f"{hours(abs(buffer.move_s))} {'later' if buffer.move_s >= 0 else 'earlier'}, and "
            f"even that keeps both in {100 * buffer.best:.0f} of 100 days. Give the stages a "
            "longest time, or plan on turning the pit as below."
        )


def _hold_words(one: PiecePlan) -> str:
    return (
        f"{one.piece.name}: held {hours(one.hold.middle_s)} ({hours(one.hold.low_s)} to "
        f"{hours(one.hold.high_s)}), between {hours(one.hold_shortest_s)} and "
        f"{hours(one.hold_longest_s)}; ready in time {100 * one.ready:.0f} of 100 days, "
        f"longer than its longest {100 * one.too_long:.0f}"
    )


def _arms(told: DayPlan) -> Iterator[str]:
    for gap in told.arms:
        middle = gap.longer.middle_s
        if abs(middle) < 60.0:
            yield from _item(f"{gap.arm}: as long as {gap.base} in the middle")
            continue
        word, other = ("longer", "shorter") if middle > 0 else ("shorter", "longer")
        ends = _ends(gap.longer, other)
        yield from _item(
            f"{gap.arm}: {hours(abs(middle))} {word} than {gap.base} on the same pieces ({ends}), "
            f"most of it in '{gap.stage}'. What differs: {gap.differs}"
        )
    if told.holds:
        if told.plan.asked.together:
            yield from _item(
                "All go on at once, so the quicker arm holds longer, and a difference found may be "
                "the hold's. To keep holds equal: put pieces on at their own times (leave "
                "--together out), or open each piece the same time after its own pull, and serve "
                "or measure it then"
            )
        else:
            yield from _item(
                "Each piece goes on at its own time, so that the middle of the holds is the same. "
                "What the day then does remains; to keep holds equal in fact, open each piece the "
                "same time after its own pull, and measure it then"
            )
    for hold in told.holds:
        yield from _item(
            f"{hold.piece} is held {hours(hold.longer.middle_s)} longer than {hold.other} "
            f"({hours(hold.longer.low_s)} to {hours(hold.longer.high_s)}; − is shorter)"
        )
    for text in told.remarks:
        yield from _item(text)


def _levers(told: DayPlan) -> Iterator[str]:
    for point in told.turning:
        if point.late_s is not None:
            yield from _item(
                f"{point.piece}: if '{point.stage}' ends after {clock_of(told, point.late_s)}, it "
                "is more likely late than not: act"
            )
        if point.early_s is not None:
            yield from _item(
                f"{point.piece}: if '{point.stage}' ends before {clock_of(told, point.early_s)}, "
                "its hold is more likely too long than not: cool the pit"
            )
    for one in told.plan.pieces:
        yield from _item(
            f"{one.piece.name} early: hold on, up to {hours(one.hold_longest_s)}: off before "
            f"{clock_of(told, one.open_s - one.hold_longest_s)} is too early; off after "
            f"{clock_of(told, one.open_s - one.hold_shortest_s)} is too late"
        )
    for effect in told.levers:
        middle = effect.longer.middle_s
        word, other = ("later", "sooner") if middle > 0 else ("sooner", "later")
        yield from _item(
            f"{effect.lever.when}, {effect.arm}: {effect.lever.words}: {hours(abs(middle))} {word} "
            f"({_ends(effect.longer, other)}), "
            f"{_kept_words(effect.kept)}"
        )
    if told.levers:
        yield from _item(
            "By the model's own draws. What is done to one arm alone is a difference between arms: "
            "do it to all, or write it down"
        )


def _safety(told: DayPlan) -> Iterator[str]:
    for same, names in _gathered(told.safety):
        mark = "! " if same.warns else "- "
        yield from _item(f"{mark}{', '.join(names)}, {same.stage}: {same.words} [{same.table}]")
    yield from _item(DEFER)


def _gathered(notes: tuple[SafetyNote, ...]) -> list[tuple[SafetyNote, list[str]]]:
    """Put notes that say the same of several pieces together, warnings first."""
    found: dict[tuple[str, str], tuple[SafetyNote, list[str]]] = {}
    for note in sorted(notes, key=lambda one: not one.warns):
        found.setdefault((note.stage, note.words), (note, []))[1].append(note.piece)
    return list(found.values())


def _assumed(told: DayPlan) -> Iterator[str]:
    for text in told.assumed:
        yield from _item(text)
    minutes = told.plan.asked.minutes
    yield from _item(
        f"one pair of hands: {minutes.on_s / 60:.0f} min to put on, {minutes.wrap_s / 60:.0f} to "
        f"wrap, {minutes.pull_s / 60:.0f} to pull and weigh, {minutes.slice_s / 60:.0f} to slice a "
        f"piece; {hours(told.plan.asked.heat_up_s)} to heat a cooker (common practice)"
    )


def _ends(found: Span, other: str) -> str:
    """Return the ends of a difference in the sense of its middle; an end beyond 0 says so."""
    away = 1.0 if found.middle_s > 0 else -1.0
    near, far = sorted((away * found.low_s, away * found.high_s))
    nearest = f"{hours(-near)} {other}" if near <= -60.0 else hours(max(near, 0.0))
    return f"{nearest} to {hours(far)}"


def _kept_words(kept: float) -> str:
    """Return a change of yield (share) to half a point: it has no interval of its own here."""
    halves = 0.5 * round(200.0 * kept)
    if halves == 0.0:
        return "yield about the same"
    return f"yield {abs(halves):.1f} points {'more' if halves > 0 else 'less'}"


def when_json(told: DayPlan) -> dict[str, Any]:
    """Return the plan as JSON data: instants as text with offset, lengths in s."""
    from fairsmoke.telling.as_json import plain

    plan = told.plan

    def moment(seconds: float) -> str | None:
        if abs(seconds) == float("inf"):
            return None
        return told.at(seconds).astimezone(told.day.zone).isoformat()

    def moments(due: Span) -> dict[str, Any]:
        return {
            "low": moment(due.low_s),
            "middle": moment(due.middle_s),
            "high": moment(due.high_s),
        }

    return {
        "form": FORM,
        "title": told.day.sides.title,
        "invented": told.day.invented,
        "serve": moment(0.0),
        "certainty": plan.asked.certainty,
        "ready": plan.ready,
        "ready_and_holds_within": plan.holds_within,
        "interval": 0.9,
        "scatter": plain(told.scatter),
        "draws": told.day.sides.members,
        "seed": told.day.sides.seed,
        "pieces": [
            {
                "id": one.piece.id,
                "name": one.piece.name,
                "arm": one.piece.arm,
                "cooker": one.piece.cooker,
                "place": one.piece.place,
                "on": moment(one.on_s),
                "marks": [
                    {
                        "kind": str(mark.step.kind),
                        "what": mark.step.words,
                        "planned": moment(mark.planned_s),
                        "due": moments(mark.due),
                        "weigh": list(mark.step.weigh),
                    }
                    for mark in one.marks
                ],
                "hold_s": plain(one.hold),
                "hold_shortest_s": one.hold_shortest_s,
                "hold_longest_s": one.hold_longest_s,
                "open": moment(one.open_s),
                "slice": moment(one.slice_s),
                "ready": one.ready,
                "hold_too_long": one.too_long,
            }
            for one in plan.pieces
        ],
        "reminders": [
            {"kind": str(one.kind), "cooker": one.cooker, "at": moment(one.at_s)}
            for one in plan.reminders
        ],
        "arms": plain(told.arms),
        "hold_gaps": plain(told.holds),
        "buffer": plain(told.buffer),
        "turning_points": [
            {
                "piece": one.piece,
                "stage": one.stage,
                "late": None if one.late_s is None else moment(one.late_s),
                "early": None if one.early_s is None else moment(one.early_s),
            }
            for one in told.turning
        ],
        "levers": [
            {
                "arm": one.arm,
                "when": one.lever.when,
                "what": one.lever.words,
                "longer_s": plain(one.longer),
                "yield_change": one.kept,
            }
            for one in told.levers
        ],
        "safety": plain(told.safety),
        "safety_defers": DEFER,
        "remarks": list(told.remarks),
        "assumed": list(told.assumed),
    }


__all__ = ["clock_of", "day_rows", "hours", "reminder_times", "span_of", "when_json", "when_text"]
