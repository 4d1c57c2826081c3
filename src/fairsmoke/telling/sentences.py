"""Sentences that several documents share."""

from fairsmoke.judging.finding import Difference, OnePair
from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.telling.numbers import show_size
from fairsmoke.trial.question import Measure
from fairsmoke.trial.record import TrialRecord


def counted(count: int, word: str) -> str:
    """Return "1 cook", "0 cooks", "2 cooks"."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def comparison_name(record: TrialRecord, found: Difference) -> Message:
    """Return which arms a difference is of: "Paper against Bare"."""
    arm, base = record.trial.arm(found.arm).name, record.trial.arm(found.base).name
    return N_("%(arm)s against %(base)s", arm=arm, base=base)


def one_pair_sentence(measure: Measure, found: OnePair) -> Message:
    """Say plainly what one pair of pieces can and cannot tell."""
    settles = (
        N_("no difference, however large, would settle it from one pair")
        if found.settles is None
        else N_(
            "from one pair only a difference of %(size)s or more would settle it",
            size=_rounded(measure, found.settles),
        )
    )
    no_difference = (
        N_("it could show that there is no difference that matters")
        if found.can_settle_no_difference
        else N_("it could never show that there is no difference that matters")
    )
    return N_(
        "This is one pair. As far as is known before the cook, two pieces treated alike differ by "
        "more than %(half)s half of the time and by more than %(rarely)s one time in twenty. One "
        "pair cannot show how much pieces differ, so that is taken from elsewhere; %(settles)s, "
        "and %(no_difference)s.",
        half=_rounded(measure, found.half),
        rarely=_rounded(measure, found.rarely),
        settles=settles,
        no_difference=no_difference,
    )


def _rounded(measure: Measure, size: float) -> Words:
    """Write a size of which only two digits mean anything."""
    return show_size(measure, float(f"{size:.2g}"))
