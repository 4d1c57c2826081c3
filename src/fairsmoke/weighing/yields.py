"""Yields: how much of the trimmed raw meat is left, how sure that is, and what two pieces can tell.

The one named basis is the trimmed raw meat as put on. Other bases are for showing beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fairsmoke.messages.message import N_, Listed, Message, Words, bracketed
from fairsmoke.quantity import sensible
from fairsmoke.quantity.values import Digits
from fairsmoke.trial.weighing import MEATS, MeatState, Part, PartKind
from fairsmoke.weighing.adjust import groups
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.ledger import Known, Solution
from fairsmoke.weighing.rows import LedgerRow, percent_interval_words, percent_words
from fairsmoke.weighing.sources import UncertaintySource
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

    @property
    def words(self) -> Message:
        """The basis for people."""
        return _BASES[self]


_BASES = {
    Basis.TRIMMED: N_("trimmed raw meat as put on"),
    Basis.BOUGHT: N_("meat as bought"),
    Basis.WITH_RUB: N_("trimmed meat with rub and slather"),
    Basis.WITH_ALL_ADDED: N_("trimmed meat with everything added"),
}

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
    sources: tuple[UncertaintySource, ...]
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
    def number(self) -> Message:
        """The yield with half of its 95 % interval, or the interval alone where masses are open."""
        shown = percent_interval_words if self.how is Known.BOUNDED else percent_words
        return shown(self.spread)

    @property
    def words(self) -> Message:
        """The number, and what would have to be weighed to pin it down."""
        if self.how is not Known.BOUNDED:
            return self.number
        parts = Listed([part.words for part in self.open_parts], "and")
        return bracketed(self.number, N_("not weighed: %(parts)s", parts=parts))

    def row(self) -> LedgerRow:
        """Return the yield as a line of a table."""
        what = N_("%(meat)s of %(basis)s", meat=MEATS[self.state], basis=self.basis.words)
        return LedgerRow(what, self.words, self.how.words)

    def source_rows(self) -> tuple[LedgerRow, ...]:
        """Return each source and its share of the variance, largest first."""
        return tuple(
            LedgerRow(one.words(self.piece), f"{100 * one.share:.0f} %") for one in self.sources
        )


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

    Trays and estimates that pieces share make it more than its diagonal. Between pieces that
    nothing ties it is exactly nought, not what so many draws happen to give.
    """
    drawn = [yield_of(solution, piece, state).drawn for piece in pieces]
    found = np.atleast_2d(np.cov(np.stack(drawn)))
    return np.asarray(np.where(_tied(solution, pieces, state), found, 0.0), dtype=np.float64)


def _tied(solution: Solution, pieces: Sequence[str], state: MeatState) -> NDArray[np.bool_]:
    """Return which pieces' yields (n, n) hang together by weighings, estimates or open parts."""
    slopes = np.stack(
        [
            _gradient(solution, _top(solution, one, state), _bottom(solution, one, Basis.TRIMMED))
            for one in pieces
        ]
    )
    touched = [slopes @ solution.gain != 0.0]
    names = [tuple(one.common.values()) for one in solution.system.observations]
    for name in {name for own in names for name in own}:
        using = np.array([name in own for own in names])
        touched.append(touched[0][:, using].any(axis=1)[:, None])
    touched += [(slopes[:, one.at] != 0.0).any(axis=1)[:, None] for one in solution.open_together]
    touch = np.hstack(touched).astype(np.int8)
    tied = np.zeros((len(pieces), len(pieces)), dtype=np.bool_)
    for members in groups(touch @ touch.T > 0):
        tied[np.ix_(members, members)] = True
    return tied


def shared_estimates(
    solution: Solution, pieces: Sequence[str], state: MeatState
) -> dict[str, tuple[str, ...]]:
    """Return the parts of which one estimate serves several of these pieces' yields, with those.

    Pieces of another arm have an estimate of their own, even one with the same numbers.
    """
    parts: dict[str, str] = {}
    users: dict[str, list[str]] = {}
    for piece in pieces:
        top, bottom = _top(solution, piece, state), _bottom(solution, piece, Basis.TRIMMED)
        slopes = _gradient(solution, top, bottom) @ solution.gain
        for seen, slope in zip(solution.system.observations, slopes, strict=True):
            name = seen.common.get("estimate")
            if name is not None and slope:
                parts[name] = seen.parts[0].part.text
                users.setdefault(name, []).append(piece)
    found: dict[str, tuple[str, ...]] = {}
    for name, own in users.items():
        if len(own) > 1:
            found[parts[name]] = (*found.get(parts[name], ()), *own)
    return found


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
    sources: tuple[UncertaintySource, ...]

    @property
    def can_tell(self) -> bool:
        """Whether the difference is larger than what weighing alone can produce."""
        return abs(self.spread.mean) > self.tellable

    @property
    def sentence(self) -> Message:
        """Say whether the difference is within what was weighed can tell."""
        shown, tellable = sensible(100 * abs(self.spread.mean), 100 * self.tellable)
        difference, limit, what = Digits(shown), Digits(tellable), self._culprits
        if self.can_tell:
            return N_(
                "The difference of %(difference)s points is larger than what %(what)s can tell "
                "(±%(limit)s points).",
                difference=difference,
                what=what,
                limit=limit,
            )
        return N_(
            "The difference of %(difference)s points is smaller than what %(what)s can tell "
            "(±%(limit)s points).",
            difference=difference,
            what=what,
            limit=limit,
        )

    @property
    def _culprits(self) -> Listed:
        worth = [source for source in self.sources if source.share >= _WORTH_NAMING]
        words: list[Words] = []
        if any(not source.unweighed for source in worth):
            words.append(N_("these scales"))
        parts = {p.part.text: p.part for source in worth for p in source.unweighed}
        words += [N_("the %(part)s", part=part.words) for part in parts.values()]
        return Listed(words or [N_("these scales")], "and")


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
            N_(
                "%(meat)s is not what is left after a cook; ask for %(others)s",
                meat=MEATS[state],
                others=Listed([MEATS[one] for one in LEFT]),
            ),
            pieces=(piece,),
        )
    if piece not in solution.pieces:
        raise LedgerError(
            N_(
                "nothing was weighed of %(piece)s; the pieces with weighings are %(others)s",
                piece=piece,
                others=Listed(solution.pieces, "and") if solution.pieces else N_("none"),
            ),
            pieces=(piece,),
        )
    wanted = meat(piece, state)
    if not solution.names(wanted):
        others = [MEATS[s] for s in LEFT if solution.names(meat(piece, s))]
        raise LedgerError(
            N_(
                "the yield of %(piece)s cannot be told: no weighing names its %(meat)s; its "
                "%(others)s can be told. Enter the weighing of '%(meat)s', or an estimate of it",
                piece=piece,
                meat=MEATS[state],
                others=Listed(others, "and"),
            )
            if others
            else N_(
                "the yield of %(piece)s cannot be told: no weighing names its %(meat)s. Enter the "
                "weighing of '%(meat)s', or an estimate of it",
                piece=piece,
                meat=MEATS[state],
            ),
            pieces=(piece,),
        )
    return wanted


def _bottom(solution: Solution, piece: str, basis: Basis) -> tuple[PartOf, ...]:
    state = MeatState.BOUGHT if basis is Basis.BOUGHT else MeatState.TRIMMED
    base = meat(piece, state)
    if not solution.names(base):
        raise LedgerError(
            N_(
                "the yield of %(piece)s cannot be told as a share of the %(basis)s: no weighing "
                "gives its bought meat. Enter the weighing of 'bought meat', or an estimate of it",
                piece=piece,
                basis=basis.words,
            )
            if state is MeatState.BOUGHT
            else N_(
                "the yield of %(piece)s cannot be told as a share of the %(basis)s: no weighing "
                "gives its trimmed meat. Enter the weighing of 'trimmed meat' as put on, or "
                "'bought meat' and its 'trim', or an estimate of it",
                piece=piece,
                basis=basis.words,
            ),
            pieces=(piece,),
        )
    added = solution.system.of(piece, *_ADDED.get(basis, ()))
    if basis in _ADDED and not added:
        kinds = Listed([Part(kind=kind).words for kind in _ADDED[basis]], "or", " or ")
        raise LedgerError(
            N_("no weighing of %(piece)s names %(parts)s", piece=piece, parts=kinds),
            pieces=(piece,),
        )
    return (base, *added)


def _ratio(solution: Solution, top: PartOf, bottom: Sequence[PartOf]) -> FloatArray:
    whole = np.sum([solution.draws_of(part) for part in bottom], axis=0)
    if not np.all(whole > 0):
        raise LedgerError(
            N_(
                "the %(part)s may weigh nothing at all, so that no share of it can be told; check "
                "its weighing",
                part=bottom[0].words,
            ),
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
