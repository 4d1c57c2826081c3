"""Sentences that text and page share."""

from fairsmoke.judging.finding import OnePair
from fairsmoke.telling.numbers import show_size
from fairsmoke.trial.question import Measure


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
