"""Turns weighings and estimates into equations: which parts there are and what is said of them.

The unknowns are the masses of parts, each of its piece; a tray is one part for the whole trial.
A weighing says that a sum of parts is its reading, give or take the error of its scale; an estimate
says the same of one part. Meat as bought is exactly the trimmed meat and its trim.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fairsmoke.messages.message import N_, Listed, Message, stretch
from fairsmoke.quantity.values import Mass
from fairsmoke.trial.weighing import (
    SHARED_KINDS,
    MeatState,
    Part,
    PartEstimate,
    PartKind,
    Scale,
    Weighing,
)
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.uncertainty import InputDistribution, normal, rectangular, triangular

FloatArray = NDArray[np.float64]

# Half-widths beyond which an error is not believed possible, for laws without limits of their own.
_NORMAL_REACH = 3.0
_NORMAL_95 = 1.959963984540054
PUT_ON = (PartKind.RUB, PartKind.SLATHER, PartKind.ADDED_FAT, PartKind.ADDED_LIQUID)
"""Kinds that are put on the meat and may become part of it."""
_MAY_JOIN = (*PUT_ON, PartKind.DRIPPINGS, PartKind.CLINGING_FAT, PartKind.WRAP)
"""Kinds that meat may have taken up again between two states after the cook."""
_STAGES = (MeatState.TRIMMED, MeatState.COOKED, MeatState.HELD, MeatState.SERVED)


@dataclass(frozen=True)
class PartOf:
    """A part of one piece; ``piece`` is None for a tray, which belongs to the whole trial."""

    piece: str | None
    part: Part

    @classmethod
    def named(cls, piece: str | None, part: Part) -> "PartOf":
        """Return the part as the ledger keeps it: a tray loses the piece it was weighed with."""
        return cls(None if part.kind in SHARED_KINDS else piece, part)

    @property
    def text(self) -> str:
        """The part and its piece, as in "cooked meat of left-1"."""
        return f"{self.part.text} of {self.piece}" if self.piece else self.part.text

    @property
    def words(self) -> Message:
        """The part and its piece for people."""
        if not self.piece:
            return self.part.words
        return N_("%(part)s of %(piece)s", part=self.part.words, piece=self.piece)

    @property
    def order(self) -> tuple[str, str]:
        """What parts are sorted by, so that no result depends on the order of weighings."""
        return (self.piece or "", self.part.text)


@dataclass(frozen=True, eq=False)
class Observation:
    """One thing that is said of a sum of parts: a weighing, or an estimate of one part.

    ``variance_kg2`` has the parts "resolution", "repeatability", "scale" of a weighing and
    "estimate" of an estimate. The error, true sum − ``value_kg``, lies in ``reach_kg``.
    ``common`` names, by kind, those parts of the error that other observations have as well.
    """

    id: str
    piece: str | None
    parts: tuple[PartOf, ...]
    value_kg: float
    variance_kg2: dict[str, float]
    reach_kg: tuple[float, float]
    written: str = ""
    limits_kg: tuple[float, float] | None = None
    step_kg: float = 0.0
    repeatability_kg: float = 0.0
    max_error_kg: float = 0.0
    law: InputDistribution | None = None
    common: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_estimate(self) -> bool:
        """Whether nothing was weighed for it."""
        return self.law is not None

    @property
    def words(self) -> Message:
        """What a person looks for: the id, the reading and what lay on the scale."""
        parts = Listed([part.part.words for part in self.parts], between=" + ")
        if self.limits_kg is None:
            value = self.written or Mass(self.value_kg)
            return N_("weighing %(id)s (%(value)s: %(sum)s)", id=self.id, value=value, sum=parts)
        between = stretch(*(Mass(limit, small=True) for limit in self.limits_kg))
        return N_("estimate %(id)s (%(value)s: %(sum)s)", id=self.id, value=between, sum=parts)

    @property
    def standard_uncertainty_kg(self) -> float:
        """Standard uncertainty of the sum as this observation has it."""
        return float(np.sqrt(sum(self.variance_kg2.values())))

    def draw_errors_kg(
        self, size: int, rng: np.random.Generator, kinds: Sequence[str] | None = None
    ) -> FloatArray:
        """Draw ``size`` values of true sum − value, or of those ``kinds`` of it only."""
        if self.law is not None:
            return self.law.rvs(size, random_state=rng) - self.value_kg
        drawn = np.zeros(size)
        if kinds is None or "resolution" in kinds:
            drawn += self.step_kg * rng.uniform(-0.5, 0.5, size)
        if kinds is None or "repeatability" in kinds:
            drawn += self.repeatability_kg * rng.standard_normal(size)
        if kinds is None or "scale" in kinds:
            drawn += self.max_error_kg * rng.uniform(-1.0, 1.0, size)
        return drawn


@dataclass(frozen=True)
class MassLimit:
    """Meat that cannot outweigh what it comes from."""

    meat: PartOf
    comes_from: tuple[PartOf, ...]


@dataclass(frozen=True, eq=False)
class BalanceEquations:
    """The equations of a whole trial.

    ``parts``         p parts, in fixed order
    ``basis``         (p, f): masses of all parts from the f that conservation leaves free
    ``design``        (m, p): 1 where a part lies in the sum of an observation
    ``limits``        sums that cannot be negative, ``limit_rows`` (l, p) their coefficients
    """

    parts: tuple[PartOf, ...]
    basis: FloatArray
    observations: tuple[Observation, ...]
    design: FloatArray
    limits: tuple[MassLimit, ...]
    limit_rows: FloatArray

    @cached_property
    def place(self) -> dict[PartOf, int]:
        """Where each part that a weighing, an estimate or conservation names stands in arrays."""
        return {part: at for at, part in enumerate(self.parts)}

    def of(self, piece: str | None, *kinds: PartKind) -> tuple[PartOf, ...]:
        """Return the named parts of a piece that are of these kinds."""
        return tuple(p for p in self.parts if p.piece == piece and p.part.kind in kinds)


def meat(piece: str, state: MeatState) -> PartOf:
    """Return the meat of a piece in one state."""
    return PartOf(piece, Part(kind=PartKind.MEAT, label=state))


def build_system(
    weighings: Iterable[Weighing], scales: Iterable[Scale], estimates: Iterable[PartEstimate] = ()
) -> BalanceEquations:
    """Return the equations that weighings and estimates stand for.

    Raises LedgerError for no weighings, an id used twice, or a scale that is not described.
    """
    weighings, estimates = list(weighings), list(estimates)
    by_id = {scale.id: scale for scale in scales}
    _check(weighings, by_id, estimates)
    observations = sorted(
        [_of_weighing(weighing, by_id[weighing.scale]) for weighing in weighings]
        + [_of_estimate(estimate) for estimate in estimates],
        key=lambda observation: (observation.is_estimate, observation.id),
    )
    named = {part for observation in observations for part in observation.parts}
    splits = _bought_splits(named)
    parts = sorted(named.union(*({whole, *split} for whole, split in splits)), key=_order)
    limits = _limits(parts)
    return BalanceEquations(
        parts=tuple(parts),
        basis=_basis(parts, splits),
        observations=tuple(observations),
        design=_rows([observation.parts for observation in observations], parts),
        limits=tuple(limits),
        limit_rows=_rows([limit.comes_from for limit in limits], parts)
        - _rows([(limit.meat,) for limit in limits], parts),
    )


def _order(part: PartOf) -> tuple[str, str]:
    return part.order


def _check(
    weighings: Sequence[Weighing], scales: dict[str, Scale], estimates: Sequence[PartEstimate]
) -> None:
    if not weighings:
        raise LedgerError(N_("nothing was weighed; a ledger needs at least one weighing"))
    for records in (weighings, estimates):
        ids = [record.id for record in records]
        twice = sorted({id_ for id_ in ids if ids.count(id_) > 1})
        if twice:
            raise LedgerError(
                N_("the id %(id)s is used twice; give each weighing its own", id=twice[0])
                if records is weighings
                else N_("the id %(id)s is used twice; give each estimate its own", id=twice[0]),
                weighings=(twice[0],),
            )
    for weighing in weighings:
        if weighing.scale not in scales:
            raise LedgerError(
                N_(
                    "weighing %(id)s was made on scale %(scale)s, which is not described; describe "
                    "it with its resolution, or name one of: %(known)s",
                    id=weighing.id,
                    scale=weighing.scale,
                    known=Listed(sorted(scales)) if scales else N_("none"),
                ),
                pieces=(weighing.piece,) if weighing.piece else (),
                weighings=(weighing.id,),
            )


def _of_weighing(weighing: Weighing, scale: Scale) -> Observation:
    step, spread, limit = scale.resolution_kg, scale.repeatability_kg, scale.max_error_kg
    reach = step / 2 + limit + _NORMAL_REACH * spread
    return Observation(
        id=weighing.id,
        piece=weighing.piece,
        parts=tuple(PartOf.named(weighing.piece, part) for part in weighing.sum),
        value_kg=weighing.reading_kg,
        variance_kg2={
            "resolution": step**2 / 12,
            "repeatability": spread**2,
            "scale": limit**2 / 3,
        },
        reach_kg=(-reach, reach),
        written=weighing.written,
        step_kg=step,
        repeatability_kg=spread,
        max_error_kg=limit,
    )


def _of_estimate(estimate: PartEstimate) -> Observation:
    low, high = estimate.low_kg, estimate.high_kg
    best = (low + high) / 2 if estimate.best_kg is None else estimate.best_kg
    law: InputDistribution
    if estimate.shape == "normal":
        deviation = (high - low) / (2 * _NORMAL_95)
        value, variance, law = best, deviation**2, normal(best, deviation)
        low, high = best - _NORMAL_REACH * deviation, best + _NORMAL_REACH * deviation
    elif estimate.shape == "triangular":
        value = (low + best + high) / 3
        variance = ((high - low) ** 2 - (best - low) * (high - best)) / 18
        law = triangular(low, best, high)
    else:
        value, variance, law = (low + high) / 2, (high - low) ** 2 / 12, rectangular(low, high)
    return Observation(
        id=estimate.id,
        piece=estimate.piece,
        parts=(PartOf.named(estimate.piece, estimate.part),),
        value_kg=value,
        variance_kg2={"estimate": variance},
        reach_kg=(low - value, high - value),
        limits_kg=(estimate.low_kg, estimate.high_kg),
        law=law,
    )


def _bought_splits(named: set[PartOf]) -> list[tuple[PartOf, tuple[PartOf, ...]]]:
    """Return (bought, (trimmed, trim …)) for each piece of which two of the three are named."""
    splits = []
    for piece in sorted({part.piece for part in named if part.piece}):
        bought, trimmed = meat(piece, MeatState.BOUGHT), meat(piece, MeatState.TRIMMED)
        trims = [p for p in named if p.piece == piece and p.part.kind is PartKind.TRIM]
        if (bought in named) + (trimmed in named) + bool(trims) >= 2:
            trims = sorted(trims, key=_order) or [PartOf(piece, Part(kind=PartKind.TRIM))]
            splits.append((bought, (trimmed, *trims)))
    return splits


def _basis(
    parts: Sequence[PartOf], splits: Sequence[tuple[PartOf, tuple[PartOf, ...]]]
) -> FloatArray:
    whole = dict(splits)
    free = [part for part in parts if part not in whole]
    return _rows([whole.get(part, (part,)) for part in parts], free)


def _limits(parts: Sequence[PartOf]) -> list[MassLimit]:
    """Meat cannot outweigh what it was made of, nor later what it was before and could take up."""
    limits = []
    for piece in sorted({part.piece for part in parts if part.piece}):
        named = [m for m in (meat(piece, state) for state in _STAGES) if m in parts]
        own = [part for part in parts if part.piece == piece]
        for before, after in pairwise(named):
            raw = before.part.label == MeatState.TRIMMED
            joins = [p for p in own if p.part.kind in (PUT_ON if raw else _MAY_JOIN)]
            limits.append(MassLimit(after, (before, *joins)))
            if not raw and named[0].part.label == MeatState.TRIMMED:
                added = [p for p in own if p.part.kind in PUT_ON]
                limits.append(MassLimit(after, (named[0], *added)))
    return limits


def _rows(sums: Sequence[Sequence[PartOf]], parts: Sequence[PartOf]) -> FloatArray:
    place = {part: at for at, part in enumerate(parts)}
    rows = np.zeros((len(sums), len(parts)))
    for row, members in zip(rows, sums, strict=True):
        row[[place[part] for part in members]] = 1.0
    return rows
