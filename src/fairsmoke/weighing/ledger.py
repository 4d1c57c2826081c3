"""The mass ledger of a trial: how much each part weighed, how that is known and how sure it is."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fairsmoke.messages.message import N_, Listed, Message, Words, bracketed
from fairsmoke.quantity.values import MassInterval
from fairsmoke.trial.weighing import Part, PartEstimate, Scale, Weighing
from fairsmoke.weighing.adjust import TINY, groups
from fairsmoke.weighing.common_errors import GroupErrors, draw_common, with_common_errors
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.refusals import refuse_if_hopeless, refuse_if_impossible
from fairsmoke.weighing.rows import LedgerRow, mass_words
from fairsmoke.weighing.solve import Drawn, Equations, Group, SolvedEquations, draw, range_of, solve
from fairsmoke.weighing.sources import (
    Disagreement,
    OpenTogether,
    UncertaintySource,
    disagreements_of,
    shares_of,
    variances_by_source,
)
from fairsmoke.weighing.system import BalanceEquations, Observation, PartOf, build_system
from fairsmoke.weighing.uncertainty import DrawSummary, summarise

FloatArray = NDArray[np.float64]
DRAWS = 20_000


class Known(StrEnum):
    """How the mass of a part is known, best first."""

    WEIGHED = "weighed"
    """It lay alone on a scale."""
    SOLVED = "solved"
    """It follows from weighings of sums."""
    ESTIMATED = "estimated"
    """Only an estimate says how much it is."""
    BOUNDED = "not weighed"
    """Weighings only say between which limits it lies."""
    UNKNOWN = "unknown"
    """Nothing says anything of it."""

    @property
    def words(self) -> Message:
        """How it is known, for people."""
        return _HOW[self]


_HOW = {
    Known.WEIGHED: N_("weighed"),
    Known.SOLVED: N_("solved"),
    Known.ESTIMATED: N_("estimated"),
    Known.BOUNDED: N_("not weighed"),
    Known.UNKNOWN: N_("unknown"),
}


@dataclass(frozen=True)
class KnownPart:
    """The mass of one part.

    ``spread``       estimate, standard uncertainty and 95 % interval, kg; None when unknown
    ``possible_kg``  for what was not weighed: the least and the most that it can be
    ``rests_on``     the weighings and estimates that it follows from
    ``leans_on``     those of them that are estimates, when it could not be told without them
    """

    part: PartOf
    how: Known
    spread: DrawSummary | None = None
    possible_kg: tuple[float, float] | None = None
    rests_on: tuple[str, ...] = ()
    leans_on: tuple[str, ...] = ()

    def row(self, *, name_piece: bool = True) -> LedgerRow:
        """Return the part as a line of a table: its mass ± half of its 95 % interval."""
        label = self.part.words if name_piece else self.part.part.words
        if self.spread is None:
            return LedgerRow(label, N_("not known"), N_("no weighing names it"))
        if self.possible_kg is not None:
            between = MassInterval(*self.possible_kg)
            return LedgerRow(
                label, self.how.words, N_("anywhere from %(between)s", between=between)
            )
        note: Words = self.how.words
        if self.leans_on:
            note = bracketed(note, N_("estimate %(ids)s", ids=Listed(self.leans_on)))
        return LedgerRow(label, mass_words(self.spread), note)


@dataclass(frozen=True, eq=False)
class Solution:
    """The solved ledger of a trial.

    ``drawn_kg``         (p, M): every part in every draw; sums of parts hold in each draw
    ``gain``             (p, m): change of each part with the error of each observation
    ``widen``            (m,): what contradictions multiply the error of an observation by
    ``open_together``    parts that no weighing tells apart
    ``possible_kg``      (p, 2): limits of parts that were not weighed, NaN for the others
    ``unestimated``      (p,): True where nothing but an estimate settles a part
    ``disagreements``    weighings that contradict each other
    ``seed``             what the draws were made with
    """

    system: BalanceEquations
    drawn_kg: FloatArray
    gain: FloatArray
    widen: FloatArray
    open_together: tuple[OpenTogether, ...]
    possible_kg: FloatArray
    unestimated: NDArray[np.bool_]
    disagreements: tuple[Disagreement, ...]
    seed: int

    @cached_property
    def best_kg(self) -> FloatArray:
        """Estimates of all parts (p,): the means of the draws."""
        means: FloatArray = np.mean(self.drawn_kg, axis=1)
        return means

    @property
    def pieces(self) -> tuple[str, ...]:
        """The pieces that have weighings or estimates."""
        return tuple(sorted({part.piece for part in self.system.parts if part.piece}))

    def names(self, part: PartOf) -> bool:
        """Tell whether a weighing, an estimate or conservation says anything of a part."""
        return part in self.system.place

    def draws_of(self, part: PartOf) -> FloatArray:
        """Return the draws (M,) of a part, kg; raises LedgerError when nothing names it."""
        if part not in self.system.place:
            raise LedgerError(
                N_(
                    "no weighing names the %(part)s; weigh it, or give an estimate of it",
                    part=part.words,
                ),
                pieces=(part.piece,) if part.piece else (),
            )
        drawn: FloatArray = self.drawn_kg[self.system.place[part]]
        return drawn

    def known(self, piece: str | None, part: Part) -> KnownPart:
        """Return the mass of a part and how it is known."""
        wanted = PartOf.named(piece, part)
        at = self.system.place.get(wanted)
        if at is None:
            return KnownPart(wanted, Known.UNKNOWN)
        low, high = self.possible_kg[at]
        rests = [o for o, gain in zip(self.system.observations, self.gain[at], strict=True) if gain]
        is_open = not np.isnan(low)
        leans = [o.id for o in rests if o.is_estimate] if self.unestimated[at] else []
        return KnownPart(
            part=wanted,
            how=Known.BOUNDED if is_open else _how(wanted, rests, bool(leans)),
            spread=summarise(self.drawn_kg[at]),
            possible_kg=(float(low), float(high)) if is_open else None,
            rests_on=tuple(o.id for o in rests),
            leans_on=tuple(leans),
        )

    def known_parts(self, piece: str | None = None) -> tuple[KnownPart, ...]:
        """Return all parts that are named, of one piece or of the whole trial."""
        return tuple(
            self.known(part.piece, part.part)
            for part in self.system.parts
            if piece is None or part.piece == piece
        )

    def rows(self, piece: str | None = None) -> tuple[LedgerRow, ...]:
        """Return the parts as lines of a table; ± is half of the 95 % interval."""
        return tuple(known.row(name_piece=piece is None) for known in self.known_parts(piece))

    def first_order(self, gradient: FloatArray) -> tuple[float, tuple[UncertaintySource, ...]]:
        """Return the standard uncertainty of a result and the share of each source, largest first.

        ``gradient`` (p,) is the change of the result with each part, per kg. First order, JCGM 100
        eq. 13; what was not weighed counts with the variance of its draws.
        """
        variances = variances_by_source(
            gradient @ self.gain, self.system.observations, self.widen, gradient, self.open_together
        )
        return shares_of(variances)


def _how(part: PartOf, rests_on: Iterable[Observation], leans: bool) -> Known:
    alone = [o for o in rests_on if o.parts == (part,)]
    if any(not o.is_estimate for o in alone):
        return Known.WEIGHED
    return Known.ESTIMATED if leans and alone else Known.SOLVED


def solve_ledger(
    weighings: Iterable[Weighing],
    scales: Iterable[Scale],
    estimates: Iterable[PartEstimate] = (),
    *,
    arms: Mapping[str, str] = MappingProxyType({}),
    seed: int = 0,
    draws: int = DRAWS,
) -> Solution:
    """Solve the ledger of a whole trial, all pieces together.

    Each reading has a rectangular error of half a step of its scale, a normal one of the scale's
    repeatability and a rectangular one within the scale's greatest error. The last is drawn apart
    for every load: how it hangs together between loads is not known, and were it common it
    would cancel from a yield, so that this is the cautious choice. The same load weighed again on
    the same scale has the same one, and the same rounding where the display repeats itself.
    ``arms`` names the arm of each piece: alike estimates for pieces of one arm are one unknown.

    Raises LedgerError when a scale is not described, or when weighings are impossible (a part below
    nothing, cooked meat heavier than all that went on) beyond what the scales can err.
    """
    weighings, estimates = list(weighings), list(estimates)
    system = build_system(weighings, scales, estimates)
    seen = with_common_errors(system.observations, weighings, estimates, arms)
    system = replace(system, observations=tuple(seen))
    split = _groups(system)
    solved = [solve(group.equations) for group in split]
    refuse_if_impossible(system, split, solved)
    common = draw_common(seen, draws, seed)
    rng = np.random.default_rng(seed)
    drawn = [
        draw(
            group.equations,
            answer,
            GroupErrors.of([seen[at] for at in group.observations], common),
            draws,
            rng,
        )
        for group, answer in zip(split, solved, strict=True)
    ]
    refuse_if_hopeless(system, split, drawn)
    return _joined(system, split, solved, drawn, seed)


def _groups(system: BalanceEquations) -> list[Group]:
    """Return the groups of masses that weighings, estimates and limits link."""
    design = system.design @ system.basis
    sums = np.concatenate([system.basis, system.limit_rows @ system.basis])
    touch = np.concatenate([design, sums]) != 0
    linked = (touch.T.astype(int) @ touch.astype(int)) > 0
    found = []
    for masses in groups(linked):
        rows = np.flatnonzero(np.any(design[:, masses] != 0, axis=1))
        held = np.flatnonzero(np.any(sums[:, masses] != 0, axis=1))
        observations = [system.observations[at] for at in rows]
        equations = Equations(
            design=design[np.ix_(rows, masses)],
            value=np.array([o.value_kg for o in observations]),
            uncertainty=np.array([o.standard_uncertainty_kg for o in observations]),
            reach=np.array([o.reach_kg for o in observations]),
            weighed=np.array([not o.is_estimate for o in observations]),
            sums=sums[np.ix_(held, masses)],
        )
        found.append(Group(masses, rows, held, equations))
    return found


def _joined(
    system: BalanceEquations,
    split: list[Group],
    solved: list[SolvedEquations],
    drawn: list[Drawn],
    seed: int,
) -> Solution:
    count, free, seen = len(system.parts), system.basis.shape[1], len(system.observations)
    masses = np.zeros((free, drawn[0].masses.shape[1]))
    gain, widen = np.zeros((free, seen)), np.ones(seen)
    possible, unestimated = np.full((count, 2), np.nan), np.zeros(count, dtype=np.bool_)
    together: list[OpenTogether] = []
    for group, answer, one in zip(split, solved, drawn, strict=True):
        masses[group.masses] = one.masses
        gain[np.ix_(group.masses, group.observations)] = answer.adjustment.gain
        widen[group.observations] = answer.widen
        rows = system.basis[:, group.masses]
        unestimated |= np.any(np.abs(rows @ answer.open_if_not_estimated) > TINY, axis=1)
        for at in np.flatnonzero(np.any(np.abs(rows @ answer.open_ways) > TINY, axis=1)):
            possible[at] = range_of(rows[at], group.equations, answer)
        for region in one.regions:
            ways = rows @ region.ways
            open_at = np.flatnonzero(np.any(np.abs(ways) > TINY, axis=1))
            spread = np.linalg.pinv(region.ways) @ (one.masses - answer.adjustment.best[:, None])
            covariance = np.atleast_2d(np.cov(spread))
            moved = ways[open_at] @ covariance @ ways[open_at].T
            together.append(OpenTogether(tuple(system.parts[at] for at in open_at), open_at, moved))
    part_gain = system.basis @ gain
    part_gain[np.abs(part_gain) < TINY] = 0.0
    return Solution(
        system=system,
        drawn_kg=system.basis @ masses,
        gain=part_gain,
        widen=widen,
        open_together=tuple(together),
        possible_kg=possible,
        unestimated=unestimated,
        disagreements=disagreements_of(system, split, solved),
        seed=seed,
    )
