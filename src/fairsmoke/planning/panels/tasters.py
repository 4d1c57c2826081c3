"""How tasters and repeats trade against pieces when scores are compared.

score = piece + taster + taster by method + one answer. Every taster scores every piece, so a
taster's own level cancels between methods. With n pairs, t tasters and r answers of a taster to a
piece the mean difference has the variance

    2 piece² / n + 2 taster_by_method² / t + 2 answer² / (n t r)

More tasters leave the first part as it is: they cannot stand in for pieces. Source: expected mean
squares of a crossed design with two random factors, any textbook (from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fairsmoke.planning.errors import PlanError


@dataclass(frozen=True, slots=True)
class ScoreSpreads:
    """Standard deviations in points of the scale.

    Attributes:
        piece: between pieces treated alike, as an endless panel would score them.
        answer: of one taster's answer to one piece, once levels are taken off.
        taster_by_method: how far tasters differ in what a method does for them.

    Raises:
        PlanError: a number that is negative, or piece and answer both nought.

    """

    piece: float
    answer: float
    taster_by_method: float = 0.0

    def __post_init__(self) -> None:
        for name in ("piece", "answer", "taster_by_method"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise PlanError(f"the spread '{name}' is 0 or more, not {value}")
        if self.piece == 0.0 and self.answer == 0.0:
            raise PlanError("pieces and answers cannot both be without any spread; give one")

    def panel_sd(self, tasters: int, repeats: int = 1) -> float:
        """Return how far one piece's mean score scatters because the panel is small."""
        _check(1, tasters, repeats)
        return self.answer / math.sqrt(tasters * repeats)

    def parts(self, pairs: int, tasters: int, repeats: int = 1) -> tuple[float, float, float]:
        """Return the variance of the mean difference from pieces, tasters and answers.

        Raises:
            PlanError: a count below 1.

        """
        _check(pairs, tasters, repeats)
        return (
            2.0 * self.piece**2 / pairs,
            2.0 * self.taster_by_method**2 / tasters,
            2.0 * self.answer**2 / (pairs * tasters * repeats),
        )

    def standard_error(self, pairs: int, tasters: int, repeats: int = 1) -> float:
        """Return the standard error of the mean difference.

        >>> round(ScoreSpreads(piece=0.5, answer=1.2).standard_error(4, 9), 3)
        0.453
        """
        return math.sqrt(sum(self.parts(pairs, tasters, repeats)))

    def tasters_for(self, pairs: int, standard_error: float, repeats: int = 1) -> int | None:
        """Return the fewest tasters that bring the standard error down to that, None if none do.

        Raises:
            PlanError: a count below 1, or a standard error that is not above 0.

        """
        _check(pairs, 1, repeats)
        if not (math.isfinite(standard_error) and standard_error > 0.0):
            raise PlanError(f"the standard error to reach must be above 0, not {standard_error}")
        left = standard_error**2 - 2.0 * self.piece**2 / pairs
        if left <= 0.0:
            return None
        each = 2.0 * self.taster_by_method**2 + 2.0 * self.answer**2 / (pairs * repeats)
        # A hair of rounding must not ask for one taster more.
        return max(1, math.ceil(each / left - 1e-9))


@dataclass(frozen=True, slots=True)
class TradeRow:
    """One way to split the effort: counts, the standard error, and the pieces' share of it.

    ``share_of_pieces`` is the part of the variance that no number of tasters takes away.
    """

    pairs: int
    tasters: int
    repeats: int
    standard_error: float
    share_of_pieces: float


def trade(
    spreads: ScoreSpreads, pairs: Sequence[int], tasters: Sequence[int], repeats: int = 1
) -> tuple[TradeRow, ...]:
    """Return the standard error for every number of pairs with every number of tasters.

    Raises:
        PlanError: a count below 1.

    """
    rows = []
    for n in pairs:
        for t in tasters:
            parts = spreads.parts(n, t, repeats)
            whole = sum(parts)
            rows.append(TradeRow(n, t, repeats, math.sqrt(whole), parts[0] / whole))
    return tuple(rows)


def _check(pairs: int, tasters: int, repeats: int) -> None:
    for name, count in (("pairs", pairs), ("tasters", tasters), ("repeats", repeats)):
        if count < 1:
            raise PlanError(f"the number of {name} is 1 or more, not {count}")
