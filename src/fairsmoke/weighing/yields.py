"""Yields: how much of the trimmed raw meat is left, how sure that is, and what two pieces can tell.

The one named basis is the trimmed raw meat as put on. Other bases are for showing beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fairsmoke.quantity import sensible
from fairsmoke.trial.weighing import MeatState, PartKind
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.ledger import Known, Solution
from fairsmoke.weighing.rows import Row, listed, percent_interval_text, percent_text
from fairsmoke.weighing.sources import Source
from fairsmoke.weighing.system import PUT_ON, PartOf, meat
from fairsmoke.weighing.uncertainty import DrawSummary, summarise

FloatArray = NDArray[np.float64]

LEFT = (MeatState.COOKED, MeatState.HELD, MeatState.SERVED)
"""States whose meat can be what is left."""
# Sources below this share of the variance are not worth naming in a sentence.
_WORTH_NAMING = 0.05
_COVERAGE = 0.95


class Basis(StrEnum):
    """What a yield is a share of."""

    TRIMMED = "trimmed raw meat as put on"
    """The named basis: what every comparison uses."""
    BOUGHT = "meat as bought"
    WITH_RUB = "trimmed meat with rub and slather"
    WITH_ALL_ADDED = "trimmed meat with everything added"


_ADDED: dict[Basis, tuple[PartKind, ...]] = {
    Basis.WITH_RUB: (PartKind.RUB, PartKind.SLATHER),
    Basis.WITH_ALL_ADDED: PUT_ON,
}


@dataclass(frozen=True, eq=False)
class Yield:
    """The share of the basis that is left as meat in one state. All masses were drawn together.

    ``spread``     estimate, standard uncertainty and 95 % interval (Monte Carlo), as a share
    ``first_order``  standard uncertainty by the law of propagation, beside it
    ``sources``    shares of the variance (first order), largest first; they add to 1
    ``how``        how the worse known of the two masses is known
    ``open_parts`` what would have to be weighed to pin it down
    ``drawn``      (M,) draws
    """

    piece: str
    state: MeatState
    basis: Basis
    spread: DrawSummary
    first_order: float
    sources: tuple[Source, ...]
    how: Known
    open_parts: tuple[PartOf, ...]
    drawn: FloatArray

    @property
    def value(self) -> float:
        """The estimate, a share from 0 to 1."""
        return self.spread.mean

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty of the value."""
        return self.spread.standard_uncertainty

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval."""
        return self.spread.low, self.spread.high

    @property
    def text(self) -> str:
        """The yield with half of its 95 % interval, or the interval alone where masses are open."""
        if self.how is Known.BOUNDED:
            weigh = listed([part.text for part in self.open_parts])
            return f"{percent_interval_text(self.spread)} (not weighed: {weigh})"
        return percent_text(self.spread)

    def row(self) -> Row:
        """Return the yield as a line of a table."""
        return Row(f"{self.state} meat of {self.basis}", self.text, str(self.how))

    def source_rows(self) -> tuple[Row, ...]:
        """Return each source and its share of the variance, largest first."""
        return tuple(Row(one.name, f"{100 * one.share:.0f} %") for one in self.sources)


def yield_of(
    solution: Solution, piece: str, state: MeatState, basis: Basis = Basis.TRIMMED
) -> Yield:
    """Return the yield of a piece: meat in ``state`` over ``basis``.

    Raises LedgerError when a mass that it needs is named nowhere, saying which to weigh.
    """
    top, bottom = _top(solution, piece, state), _bottom(solution, piece, basis)
    drawn = _ratio(solution, top, bottom)
    gradient = _gradient(solution, top, bottom)
    first_order, sources = solution.first_order(gradient)
    known = [solution.known(part.piece, part.part).how for part in (top, *bottom)]
    needed = {solution.system.place[part] for part in (top, *bottom)}
    return Yield(
        piece=piece,
        state=state,
        basis=basis,
        spread=summarise(drawn, _COVERAGE),
        first_order=first_order,
        sources=sources,
        how=max(known, key=list(Known).index),
        open_parts=tuple(
            part
            for one in solution.open_together
            if needed & set(one.at.tolist())
            for part in one.culprits
            if part.piece in (None, piece)
        ),
        drawn=drawn,
    )


def yields_of(solution: Solution, piece: str, state: MeatState) -> tuple[Yield, ...]:
    """Return the yield on the named basis and then on each other that the weighings allow.

    Raises LedgerError when the one on the named basis cannot be computed.
    """
    found = [yield_of(solution, piece, state)]
    for basis in list(Basis)[1:]:
        try:
            found.append(yield_of(solution, piece, state, basis))
        except LedgerError:
            continue
    return tuple(found)


def covariance(solution: Solution, pieces: Sequence[str], state: MeatState) -> FloatArray:
    """Return the covariance matrix (n, n) of the yields of pieces on the named basis, shares².

    Trays and estimates that pieces share make it more than its diagonal.
    """
    drawn = [yield_of(solution, piece, state).drawn for piece in pieces]
    return np.atleast_2d(np.cov(np.stack(drawn)))


@dataclass(frozen=True, eq=False)
class YieldComparison:
    """The difference of two yields, first less second, and what the weighing can tell.

    ``spread``    the difference, its standard uncertainty and 95 % interval, as a share
    ``first_order``  standard uncertainty of the difference by the law of propagation
    ``tellable``  the least difference that weighing can tell from none (95 %)
    ``sources``   shares of the variance of the difference, largest first
    """

    piece_a: str
    piece_b: str
    state: MeatState
    spread: DrawSummary
    first_order: float
    tellable: float
    sources: tuple[Source, ...]

    @property
    def can_tell(self) -> bool:
        """Whether the difference is larger than what weighing alone can produce."""
        return abs(self.spread.mean) > self.tellable

    @property
    def sentence(self) -> str:
        """Say whether the difference is within what was weighed can tell."""
        difference, limit = sensible(100 * abs(self.spread.mean), 100 * self.tellable)
        than = "larger" if self.can_tell else "smaller"
        return (
            f"The difference of {difference} points is {than} than what {self._culprits} can tell "
            f"(±{limit} points)."
        )

    @property
    def _culprits(self) -> str:
        worth = [source for source in self.sources if source.share >= _WORTH_NAMING]
        scales = ["these scales"] if any(not source.unweighed for source in worth) else []
        parts = dict.fromkeys(f"the {p.part.text}" for source in worth for p in source.unweighed)
        words = [*scales, *parts] or ["these scales"]
        return listed(words)


def compare_yields(
    solution: Solution,
    piece_a: str,
    piece_b: str,
    state: MeatState,
    state_b: MeatState | None = None,
) -> YieldComparison:
    """Compare the yields of two pieces on the named basis; both in one state unless told otherwise.

    What both share (a tray, an estimate) cancels as far as it should. Raises LedgerError as
    ``yield_of`` does.
    """
    first = yield_of(solution, piece_a, state)
    second = yield_of(solution, piece_b, state_b or state)
    drawn = first.drawn - second.drawn
    gradients = [
        _gradient(solution, _top(solution, y.piece, y.state), _bottom(solution, y.piece, y.basis))
        for y in (first, second)
    ]
    first_order, sources = solution.first_order(gradients[0] - gradients[1])
    return YieldComparison(
        piece_a=piece_a,
        piece_b=piece_b,
        state=state,
        spread=summarise(drawn, _COVERAGE),
        first_order=first_order,
        tellable=float(np.quantile(np.abs(drawn - np.mean(drawn)), _COVERAGE)),
        sources=sources,
    )


def _top(solution: Solution, piece: str, state: MeatState) -> PartOf:
    if state not in LEFT:
        raise LedgerError(
            f"{state} meat is not what is left after a cook; ask for {', '.join(LEFT)}",
            pieces=(piece,),
        )
    if piece not in solution.pieces:
        raise LedgerError(
            f"nothing was weighed of {piece}; the pieces with weighings are "
            f"{listed(solution.pieces) if solution.pieces else 'none'}",
            pieces=(piece,),
        )
    wanted = meat(piece, state)
    if not solution.names(wanted):
        others = [f"{s} meat" for s in LEFT if solution.names(meat(piece, s))]
        instead = f"; its {' and '.join(others)} can be told" if others else ""
        raise LedgerError(
            f"the yield of {piece} cannot be told: no weighing names its {state} meat{instead}. "
            f"Enter the weighing of '{state} meat', or an estimate of it",
            pieces=(piece,),
        )
    return wanted


def _bottom(solution: Solution, piece: str, basis: Basis) -> tuple[PartOf, ...]:
    state = MeatState.BOUGHT if basis is Basis.BOUGHT else MeatState.TRIMMED
    base = meat(piece, state)
    if not solution.names(base):
        way = "'trimmed meat' as put on, or 'bought meat' and its 'trim'"
        raise LedgerError(
            f"the yield of {piece} cannot be told as a share of the {basis}: no weighing gives its "
            f"{state} meat. Enter the weighing of "
            f"{way if state is MeatState.TRIMMED else repr('bought meat')}, or an estimate of it",
            pieces=(piece,),
        )
    added = solution.system.of(piece, *_ADDED.get(basis, ()))
    if basis in _ADDED and not added:
        words = " or ".join(kind.value for kind in _ADDED[basis])
        raise LedgerError(f"no weighing of {piece} names {words}", pieces=(piece,))
    return (base, *added)


def _ratio(solution: Solution, top: PartOf, bottom: Sequence[PartOf]) -> FloatArray:
    whole = np.sum([solution.draws_of(part) for part in bottom], axis=0)
    if not np.all(whole > 0):
        raise LedgerError(
            f"the {bottom[0].text} may weigh nothing at all, so that no share of it can be told; "
            "check its weighing",
            pieces=(top.piece,) if top.piece else (),
        )
    return np.asarray(solution.draws_of(top) / whole, dtype=np.float64)


def _gradient(solution: Solution, top: PartOf, bottom: Sequence[PartOf]) -> FloatArray:
    """Return the change (p,) of top over the sum of bottom with each part, per kg."""
    place, best = solution.system.place, solution.best_kg
    gradient = np.zeros(best.size)
    below = [place[part] for part in bottom]
    whole = float(np.sum(best[below]))
    gradient[place[top]] += 1 / whole
    gradient[below] -= best[place[top]] / whole**2
    return gradient
