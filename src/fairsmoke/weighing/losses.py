"""Where the mass of a piece went: a ledger of parts that adds up to all that there was."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.quantity import show_percent
from fairsmoke.trial.weighing import MeatState, Part, PartKind
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.ledger import Solution
from fairsmoke.weighing.rows import LedgerRow, mass_words
from fairsmoke.weighing.system import PUT_ON, PartOf, meat
from fairsmoke.weighing.uncertainty import DrawSummary, summarise
from fairsmoke.weighing.yields import yield_of

FloatArray = NDArray[np.float64]

REST = "evaporated and unaccounted for"
_WASTE = "bone, waste and lost in serving"
_SOAKED = "soaked into the wrap"
# Drippings that gather only after the meat came off, by the first word of their label.
_AFTER_THE_COOK = ("hold", "held", "rest", "resting")


@dataclass(frozen=True, eq=False)
class LedgerLine:
    """One part of the mass of a piece.

    ``spread``   mass, standard uncertainty and 95 % interval, kg
    ``share``    of the trimmed meat as put on (estimate)
    ``drawn_kg`` (M,) draws
    """

    name: str
    spread: DrawSummary
    share: float
    drawn_kg: FloatArray

    def row(self) -> LedgerRow:
        """Return the line with its share of the trimmed meat."""
        return LedgerRow(self.name, mass_words(self.spread), show_percent(self.share))


@dataclass(frozen=True)
class PieceLedger:
    """The mass of a piece from the start to one state of its meat.

    ``went_in``    meat as bought (or trimmed, where nobody weighed it before) and what was added
    ``came_out``   the meat that is left and where the rest went; the last line is the difference
    ``not_split``  what was not weighed and therefore lies within that difference
    The two sides are equal in every draw.
    """

    piece: str
    state: MeatState
    went_in: tuple[LedgerLine, ...]
    came_out: tuple[LedgerLine, ...]
    not_split: tuple[str, ...]

    def rows(self) -> tuple[LedgerRow, ...]:
        """Return the lines of both sides; shares are of the trimmed meat."""
        return tuple(line.row() for line in (*self.went_in, *self.came_out))


def piece_ledger(solution: Solution, piece: str, state: MeatState) -> PieceLedger:
    """Split the mass of a piece into what is left, trim, drippings and what evaporated.

    Drippings labelled "hold" or "rest" count only once the meat was held. A wrap counts by what it
    soaked up, when both "fresh wrap" and "used wrap" were weighed. Raises LedgerError when the meat
    in this state, or the trimmed meat, is named nowhere.
    """
    yield_of(solution, piece, state)
    trimmed = solution.draws_of(meat(piece, MeatState.TRIMMED))
    bought = meat(piece, MeatState.BOUGHT)
    system = solution.system
    start = bought if solution.names(bought) else meat(piece, MeatState.TRIMMED)
    incoming = {p.part.text: solution.draws_of(p) for p in (start, *system.of(piece, *PUT_ON))}
    outgoing: dict[str, FloatArray] = {}
    if start == bought:
        outgoing |= _each(solution, system.of(piece, PartKind.TRIM))
    outgoing |= _each(solution, [meat(piece, state)])
    if state is MeatState.SERVED:
        outgoing |= _waste(solution, piece)
    drippings = [
        part
        for part in system.of(piece, PartKind.DRIPPINGS)
        if state is not MeatState.COOKED or not part.part.label.startswith(_AFTER_THE_COOK)
    ]
    fat = system.of(piece, PartKind.CLINGING_FAT)
    soaked = _soaked(solution, piece)
    outgoing |= _each(solution, [*drippings, *fat]) | soaked
    outgoing[REST] = _total(incoming.values()) - _total(outgoing.values())
    absent = [("drippings", drippings), ("clinging fat", fat), (_SOAKED, soaked)]
    return PieceLedger(
        piece=piece,
        state=state,
        went_in=_lines(incoming, trimmed),
        came_out=_lines(outgoing, trimmed),
        not_split=tuple(name for name, present in absent if not present),
    )


def _each(solution: Solution, parts: Iterable[PartOf]) -> dict[str, FloatArray]:
    return {part.part.text: solution.draws_of(part) for part in parts}


def _waste(solution: Solution, piece: str) -> dict[str, FloatArray]:
    for before in (MeatState.HELD, MeatState.COOKED):
        if solution.names(meat(piece, before)):
            served = solution.draws_of(meat(piece, MeatState.SERVED))
            return {_WASTE: solution.draws_of(meat(piece, before)) - served}
    return {}


def _soaked(solution: Solution, piece: str) -> dict[str, FloatArray]:
    used, fresh = (
        PartOf(piece, Part(kind=PartKind.WRAP, label=label)) for label in ("used", "fresh")
    )
    try:
        return {_SOAKED: solution.draws_of(used) - solution.draws_of(fresh)}
    except LedgerError:
        return {}


def _total(drawn: Iterable[FloatArray]) -> FloatArray:
    return np.asarray(np.sum(list(drawn), axis=0), dtype=np.float64)


def _lines(drawn: dict[str, FloatArray], trimmed: FloatArray) -> tuple[LedgerLine, ...]:
    whole = float(np.mean(trimmed))
    return tuple(
        LedgerLine(name, summarise(masses), float(np.mean(masses)) / whole, masses)
        for name, masses in drawn.items()
    )
