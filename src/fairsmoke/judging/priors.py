"""What is believed about spreads and levels before a trial's own data, with reason and source."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Self

import numpy as np
import numpy.typing as npt
import scipy

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.prior_table import (
    DEFAULTS,
    GUESS,
    ODD_SHARE,
    ODD_TIMES,
    SHOWN,
    PriorKind,
    Shown,
)
from fairsmoke.messages.message import N_, Words, in_a_row
from fairsmoke.quantity.values import Digits

FloatArray = npt.NDArray[np.float64]

SCEPTICAL = 0.4
"""Sd of the sceptical prior for a difference, as a share of the usual one: 4 points of yield where
the usual one has 10."""


class SpreadFamily(StrEnum):
    """The two shapes that a prior on a standard deviation may have."""

    LOG_NORMAL = "log-normal"
    HALF_NORMAL = "half-normal"


@dataclass(frozen=True, slots=True)
class SpreadPrior:
    """A proper prior on one standard deviation.

    Log-normal: `size` is the median and one standard deviation up or down multiplies it by
    `factor`; a factor of exactly 1 means that the spread is known. Half-normal: `size` is the
    scale (the standard deviation of the normal that is folded) and `factor` is not used.
    `size` has the unit of the response.

    Raises:
        ComparisonError: size not positive and finite, or factor below 1.

    """

    size: float
    factor: float = 1.0
    family: SpreadFamily = SpreadFamily.LOG_NORMAL

    def __post_init__(self) -> None:
        if not (math.isfinite(self.size) and self.size > 0.0):
            raise ComparisonError(f"The prior for a spread needs a size above 0, not {self.size}.")
        if not (math.isfinite(self.factor) and self.factor >= 1.0):
            raise ComparisonError(
                f"The prior for a spread needs a factor of 1 or more, not {self.factor}: "
                "1.6 means 'one sd up or down is 1.6 times more or less'."
            )

    @classmethod
    def log_normal(cls, median: float, factor: float) -> Self:
        """Return a log-normal prior; `median` in the unit of the response, `factor` >= 1."""
        return cls(median, factor, SpreadFamily.LOG_NORMAL)

    @classmethod
    def half_normal(cls, scale: float) -> Self:
        """Return a half-normal prior with `scale` in the unit of the response."""
        return cls(scale, 1.0, SpreadFamily.HALF_NORMAL)

    @property
    def known(self) -> bool:
        """True when the prior leaves nothing open, so that there is nothing to integrate over."""
        return self.family is SpreadFamily.LOG_NORMAL and self.factor == 1.0

    def sd_at(self, z: FloatArray) -> FloatArray:
        """Return the standard deviation at prior normal score `z`, of the same shape.

        If z is standard normal then `sd_at(z)` has this prior.
        """
        if self.family is SpreadFamily.LOG_NORMAL:
            return np.asarray(self.size * np.exp(z * math.log(self.factor)), dtype=np.float64)
        # Each half of the formula is the one that keeps its digits in its own tail.
        low = math.sqrt(2.0) * scipy.special.erfinv(scipy.special.ndtr(np.minimum(z, 0.0)))
        high = -scipy.special.ndtri(scipy.special.ndtr(-np.maximum(z, 0.0)) / 2.0)
        return np.asarray(self.size * np.where(z < 0.0, low, high), dtype=np.float64)

    def quantile(self, probability: float) -> float:
        """Return the standard deviation below which the prior holds `probability` (0 to 1)."""
        return float(self.sd_at(np.asarray(scipy.special.ndtri(probability), dtype=np.float64)))

    def mean_square(self) -> float:
        """Return the prior mean of the variance (square of the unit of the response)."""
        if self.family is SpreadFamily.LOG_NORMAL:
            return self.size**2 * math.exp(2.0 * math.log(self.factor) ** 2)
        return self.size**2

    def scaled(self, times: float) -> Self:
        """Return the same prior with every spread `times` as large (units, sensitivity)."""
        return replace(self, size=self.size * times)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a prior is what it is, and where its numbers come from."""

    why: Words
    source: Words


@dataclass(frozen=True, slots=True)
class OddPiece:
    """That a piece may be odd: a mistake, a sick animal, a probe elsewhere.

    Each piece is odd with probability `share`, at most one of a comparison; an odd piece carries
    a further error ~ N(0, sd^2), unit of the response.

    Raises:
        ComparisonError: a share outside 0 to 0.5, or an sd that is not positive.

    """

    share: float
    sd: float

    def __post_init__(self) -> None:
        if not 0.0 < self.share < 0.5:
            raise ComparisonError(f"The share of odd pieces lies between 0 and 0.5: {self.share}.")
        if not (math.isfinite(self.sd) and self.sd > 0.0):
            raise ComparisonError(f"The sd of an odd piece must be above 0, not {self.sd}.")

    def odds(self, pieces: int) -> float:
        """Return the prior odds that one given piece is the odd one, against none being odd."""
        return self.share / (1.0 - self.share)


@dataclass(frozen=True, slots=True)
class Priors:
    """All that the comparison believes before the data, in the unit of the response.

    General level ~ N(mu_mean, mu_sd^2); the difference of any two arms ~ N(0, difference_sd^2);
    `piece` is the spread between pieces treated alike, `groups` the spread between the levels of
    each grouping factor by name (cook, animal, parent, position); `odd` allows for one odd piece,
    none where it is None. `reasons` (keys: level,
    difference, piece and the factors) and `shown` are for the report only.

    Raises:
        ComparisonError: a number that is not finite, or a spread that is not positive.

    """

    mu_mean: float
    mu_sd: float
    difference_sd: float
    piece: SpreadPrior
    groups: Mapping[str, SpreadPrior] = field(default_factory=dict)
    reasons: Mapping[str, Reason] = field(default_factory=dict)
    shown: Shown = field(default_factory=Shown)
    odd: OddPiece | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.mu_mean):
            raise ComparisonError(f"The prior mean of the level is {self.mu_mean}; give a number.")
        for name in ("mu_sd", "difference_sd"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise ComparisonError(f"The prior {name} is {value}; give a number above 0.")

    def group(self, factor: str) -> SpreadPrior:
        """Return the prior for the spread of one grouping factor.

        Raises:
            ComparisonError: there is none.

        """
        try:
            return self.groups[factor]
        except KeyError:
            raise ComparisonError(
                f"No prior for the spread of '{factor}': add it to the priors' groups, "
                f"or leave '{factor}' out of the layout."
            ) from None

    def with_piece_times(self, times: float) -> Self:
        """Return these priors with the piece-to-piece spread `times` as large."""
        return replace(self, piece=self.piece.scaled(times))

    def sceptical(self) -> Self:
        """Return these priors with differences between arms believed to be smaller."""
        return replace(self, difference_sd=SCEPTICAL * self.difference_sd)

    def scaled(self, times: float) -> Self:
        """Return these priors for a response in another unit: every number times `times` (> 0)."""
        return replace(
            self,
            mu_mean=self.mu_mean * times,
            mu_sd=self.mu_sd * times,
            difference_sd=self.difference_sd * times,
            piece=self.piece.scaled(times),
            groups={name: prior.scaled(times) for name, prior in self.groups.items()},
            odd=None if self.odd is None else replace(self.odd, sd=self.odd.sd * times),
            shown=replace(self.shown, times=self.shown.times / times),
        )

    def described(self) -> list[Words]:
        """Return one line of plain words for each prior, with its reason and source."""
        shown = self.shown
        level = N_(
            "General level: about %(middle)s, very likely between %(low)s and %(high)s.",
            middle=shown.level(self.mu_mean),
            low=shown.level(self.mu_mean - 1.96 * self.mu_sd),
            high=shown.level(self.mu_mean + 1.96 * self.mu_sd),
        )
        difference = N_(
            "Difference between two arms: none expected either way; 19 times in 20 it is below "
            "%(size)s.",
            size=shown.spread(1.96 * self.difference_sd),
        )
        lines = [self._with_reason("level", level), self._with_reason("difference", difference)]
        for name, prior in {"piece": self.piece, **self.groups}.items():
            lines.append(self._with_reason(name, self._spread_words(name, prior)))
        if self.odd is not None:
            odd = N_(
                "One odd piece: %(share)s of pieces are believed to be off by something else, "
                "about %(size)s (one sd).",
                share=Digits(f"{100.0 * self.odd.share:.2g} %"),
                size=shown.spread(self.odd.sd),
            )
            lines.append(in_a_row([odd, N_("Source: %(source)s", source=GUESS)]))
        return lines

    def _spread_words(self, name: str, prior: SpreadPrior) -> Words:
        factor, shown = _FACTORS.get(name, name), self.shown
        if prior.known:
            return N_(
                "Spread from %(factor)s to %(factor)s (one sd): known, %(size)s.",
                factor=factor,
                size=shown.spread(prior.size),
            )
        return N_(
            "Spread from %(factor)s to %(factor)s (one sd): about %(middle)s, very likely between "
            "%(low)s and %(high)s.",
            factor=factor,
            middle=shown.spread(prior.quantile(0.5)),
            low=shown.spread(prior.quantile(0.025)),
            high=shown.spread(prior.quantile(0.975)),
        )

    def _with_reason(self, key: str, words: Words) -> Words:
        reason = self.reasons.get(key)
        if reason is None:
            return words
        return in_a_row([words, reason.why, N_("Source: %(source)s", source=reason.source)])


_FACTORS: Mapping[str, Words] = {
    "piece": N_("piece"),
    "cook": N_("cook"),
    "animal": N_("animal"),
    "parent": N_("whole piece"),
    "position": N_("position"),
}


def defaults_for(
    kind: PriorKind | str,
    *,
    scale_span: float | None = None,
    centre: float | None = None,
    factors: Iterable[str] = ("cook", "animal", "parent", "position"),
) -> Priors:
    """Return the default priors for a kind of measure, each with its reason and source.

    Args:
        kind: what is compared. Yield is a fraction 0 to 1 of the trimmed raw mass; cook time is
            the natural logarithm of seconds, so that a difference is a ratio of times and the
            spread is a share of the time; shear force is in kilograms; temperature in °C.
        scale_span: for a score only, highest less lowest possible score.
        centre: prior mean of the general level in the unit of the response; needed for a score
            (the middle of the scale), otherwise the table's own.
        factors: the grouping factors to give priors for.

    Raises:
        ComparisonError: unknown kind or factor, a score without span or centre, or a cook time
            whose centre looks like seconds.

    """
    try:
        kind = PriorKind(kind)
    except ValueError:
        known = ", ".join(PriorKind)
        raise ComparisonError(f"No default priors for '{kind}'; known kinds: {known}.") from None
    times = _times_for(kind, scale_span, centre)
    rows = DEFAULTS[kind]
    names = list(dict.fromkeys(factors))
    for name in names:
        if name not in rows or name in ("level", "difference", "piece"):
            raise ComparisonError(
                f"No default prior for the factor '{name}' of {kind.value}; give one by hand."
            )
    level, used = rows["level"], ["level", "difference", "piece", *names]
    return Priors(
        mu_mean=level.size if centre is None else centre,
        mu_sd=level.factor * times,
        difference_sd=rows["difference"].size * times,
        piece=SpreadPrior.log_normal(rows["piece"].size * times, rows["piece"].factor),
        groups={n: SpreadPrior.log_normal(rows[n].size * times, rows[n].factor) for n in names},
        reasons={name: Reason(rows[name].why, rows[name].source) for name in used},
        shown=SHOWN[kind],
        odd=OddPiece(ODD_SHARE, ODD_TIMES * rows["piece"].size * times),
    )


def _times_for(kind: PriorKind, scale_span: float | None, centre: float | None) -> float:
    """Return what the table's spreads are multiplied by, and refuse what does not fit the kind."""
    if centre is not None and not math.isfinite(centre):
        raise ComparisonError(f"The centre of {kind.value} is {centre}; give a number.")
    if kind is PriorKind.SCORE:
        if scale_span is None or not (math.isfinite(scale_span) and scale_span > 0.0):
            raise ComparisonError("A score needs scale_span, highest less lowest possible score.")
        if centre is None:
            raise ComparisonError("A score needs centre, the middle of its scale (5 for 1 to 9).")
        return scale_span
    if scale_span is not None:
        raise ComparisonError(f"scale_span is for scores only, not for {kind.value}.")
    if kind is PriorKind.COOK_TIME and centre is not None and centre > 20.0:
        raise ComparisonError(
            f"A centre of {centre:g} looks like seconds; cook times are compared as natural "
            f"logarithms, so give {math.log(centre):.3f}."
        )
    return 1.0
