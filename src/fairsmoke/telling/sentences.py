"""Sentences that text and page share."""

from fairsmoke.judging.conduct import (
    COME_UP_FROM_C,
    COME_UP_TO_C,
    COOL_END_C,
    COOL_END_LIMIT_S,
    COOL_MIDDLE_C,
    COOL_MIDDLE_LIMIT_S,
    HOLD_CODE_C,
    Cooling,
    Implausible,
)
from fairsmoke.judging.finding import Difference, Finding, OnePair
from fairsmoke.quantity import Units, show_duration, show_temperature
from fairsmoke.telling.numbers import show_size
from fairsmoke.trial.question import Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord


def counted(count: int, word: str) -> str:
    """Return "1 cook", "0 cooks", "2 cooks"."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def comparison_name(record: TrialRecord, found: Difference) -> str:
    """Return which arms a difference is of: "Paper against Bare"."""
    return f"{record.trial.arm(found.arm).name} against {record.trial.arm(found.base).name}"


def one_pair_lines(finding: Finding, measure: Measure, found: tuple[Difference, ...]) -> list[str]:
    """Say what one pair can tell of each difference that rests on one, alike ones together."""
    lines: dict[str, list[str]] = {}
    for one in found:
        if one.one_pair is not None:
            sentence = one_pair_sentence(measure, one.one_pair)
            lines.setdefault(sentence, []).append(comparison_name(finding.record, one))
    if len(found) == 1:
        return list(lines)
    return [f"{'; '.join(names)}: {sentence}" for sentence, names in lines.items()]


def unsure_of(measure: Measure) -> str:
    """Return what the ± behind a piece's value is."""
    if measure.kind is MeasureKind.SCORE:
        return "standard error of the panel's mean (how far tasters disagree)"
    return "standard uncertainty of measuring"


def doubt_lines(finding: Finding, units: Units) -> list[str]:
    """Say which temperatures cannot be right, and what to look at."""
    return [_doubt(finding.record, one, units) for one in finding.conduct.implausible]


def _doubt(record: TrialRecord, one: Implausible, units: Units) -> str:
    names = {probe.id: probe.name for probe in record.probes}
    probes = ", ".join(names.get(probe, probe) for probe in one.probes) or "the probe"
    cook = next((cook.name for cook in record.cooks if cook.id == one.cook), one.cook)
    shown = show_temperature(one.value_c, units)
    if one.what == "core":
        piece = record.piece(one.where).name
        said = f"the core of {piece} reached {shown}, which no meat does that still holds water"
    else:
        spots = {f"{c.id}/{p.id}": f"“{p.name}”" for c in record.cookers for p in c.positions}
        said = f"the air at {spots.get(one.where, one.where)} was {shown} on average"
        if one.planned_c is not None:
            low, high = (show_temperature(c, units) for c in one.planned_c)
            said += f", with {low if low == high else f'{low} to {high}'} planned"
    return f"Check the unit of {probes}, {cook}: {said}."


def come_up_ends(units: Units) -> str:
    """Return the ends of the slow warming that the guideline limits: "10 to 54.4 °C"."""
    if units.temperature == "F":
        return f"{COME_UP_FROM_C * 1.8 + 32:.0f} to {COME_UP_TO_C * 1.8 + 32:.0f} °F"
    return f"{COME_UP_FROM_C:g} to {COME_UP_TO_C:g} °C"


def cooling_text(found: Cooling | None, units: Units) -> str:
    """Say how a core cooled, against the rule for cooling where it was read so far."""
    if found is None:
        return "not read"
    hot, middle, end = (
        show_temperature(c, units) for c in (HOLD_CODE_C, COOL_MIDDLE_C, COOL_END_C)
    )
    last = show_temperature(found.last_c, units)
    so_far = f"readings end before, at {last} after {show_duration(found.read_s)}"
    steps = (
        (middle, found.to_middle_s, COOL_MIDDLE_LIMIT_S),
        (end, found.to_end_s, COOL_END_LIMIT_S),
    )
    texts = []
    for to, taken, limit in steps:
        rule = f"the code's {show_duration(limit)}"
        if taken is not None:
            longer = f", longer than {rule}" if taken > limit else ""
            texts.append(f"{hot} to {to} in {show_duration(taken)}{longer}")
        else:
            longer = f", longer than {rule} already" if found.read_s > limit else ""
            texts.append(f"{hot} to {to} not seen: {so_far}{longer}")
            break
    return "; ".join(texts)


def one_pair_sentence(measure: Measure, found: OnePair) -> str:
    """Say plainly what one pair of pieces can and cannot tell."""
    half, rarely = _rounded(measure, found.half), _rounded(measure, found.rarely)
    settles = (
        "no difference, however large, would settle it from one pair"
        if found.settles is None
        else f"from one pair only a difference of {_rounded(measure, found.settles)} or more "
        "would settle it"
    )
    return (
        "This is one pair. As far as is known before the cook, two pieces treated alike differ by "
        f"more than {half} half of the time and by more than {rarely} one time in twenty. One pair "
        f"cannot show how much pieces differ, so that is taken from elsewhere; {settles}, and it "
        f"{'could' if found.can_settle_no_difference else 'could never'} show that there is no "
        "difference that matters."
    )


def _rounded(measure: Measure, size: float) -> str:
    """Write a size of which only two digits mean anything."""
    return show_size(measure, float(f"{size:.2g}"))
