"""The verdict: what a posterior says against the worthwhile difference, in fixed words."""

from dataclasses import dataclass
from enum import StrEnum

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.mixture import Posterior
from fairsmoke.trial.question import Better


class Word(StrEnum):
    """The words that a verdict may be given in, and no others."""

    BETTER = "better"
    HIGHER = "higher"
    NO_DIFFERENCE = "no difference that matters"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True)
class Verdict:
    """A verdict on an arm against the base.

    ``better_by_enough``, ``no_difference`` and ``worse_by_enough`` are the chances that the arm is
    better than the base by more than the worthwhile difference, that they differ by less, and
    that it is worse by more; they add to 1. Where neither way is better, read "higher" and
    "lower". ``winner`` is the name of the better (or higher) arm, "" where there is none.
    ``labels`` say in words what the three chances are of.
    """

    word: Word
    winner: str
    sentence: str
    better_by_enough: float
    no_difference: float
    worse_by_enough: float
    labels: tuple[str, str, str]

    @property
    def chances(self) -> dict[str, float]:
        """The three chances by what they are of."""
        three = (self.better_by_enough, self.no_difference, self.worse_by_enough)
        return dict(zip(self.labels, three, strict=True))


def verdict_on(
    posterior: Posterior,
    *,
    worthwhile: float,
    better: Better,
    arm: str,
    base: str,
    sure: float = 0.95,
) -> Verdict:
    """Say in fixed words what is known of arm less base.

    Better (or, where neither way is better, higher) when the chance of a difference beyond
    ``worthwhile`` (> 0, unit of the response) in that direction is at least ``sure``; no
    difference that matters when the chance of one smaller than it is; else not settled. As the
    posterior rests on proper priors that were fixed beforehand, it may be looked at after every
    cook.

    Raises ComparisonError when ``worthwhile`` is not above 0 or ``sure`` is not within 0.5 to 1.
    """
    if not worthwhile > 0:
        raise ComparisonError(f"the worthwhile difference is {worthwhile}; it must be above 0.")
    if not 0.5 < sure < 1:
        raise ComparisonError(f"sure is {sure}: it must lie between 0.5 and 1, such as 0.95.")
    above, below = posterior.prob_greater(worthwhile), posterior.cdf(-worthwhile)
    good, bad = (below, above) if better is Better.LOWER else (above, below)
    within = max(0.0, 1.0 - above - below)
    quality = Word.HIGHER if better is Better.NEITHER else Word.BETTER
    word, winner = Word.NOT_SETTLED, ""
    if good >= sure:
        word, winner = quality, arm
    elif bad >= sure:
        word, winner = quality, base
    elif within >= sure:
        word = Word.NO_DIFFERENCE
    return Verdict(
        word=word,
        winner=winner,
        sentence=_sentence(word, winner, arm, base, sure),
        better_by_enough=good,
        no_difference=within,
        worse_by_enough=bad,
        labels=(
            f"“{arm}” is {quality} by enough to matter",
            "the difference is too small to matter",
            f"“{base}” is {quality} by enough to matter",
        ),
    )


def _sentence(word: Word, winner: str, arm: str, base: str, sure: float) -> str:
    if word is Word.NOT_SETTLED:
        return f"Not settled: more cooks of “{arm}” and “{base}” are needed to be sure."
    if word is Word.NO_DIFFERENCE:
        return (
            f"No difference that matters between {arm} and {base} (at least {100 * sure:g} % sure)."
        )
    return f"“{winner}” is {word}, by enough to matter (at least {100 * sure:g} % sure)."
