"""Solves what can be solved: the pieces whose weighings cannot all be true are set aside."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fairsmoke.messages.message import Words, in_a_row
from fairsmoke.trial.weighing import PartEstimate, Scale, Weighing
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.ledger import Solution, solve_ledger


@dataclass(frozen=True, eq=False)
class PartSolved:
    """A ledger of the pieces whose weighings can be true, and what is wrong with the others.

    ``solution``  None when no piece is left
    ``problems``  every contradiction as a sentence
    ``aside``     why each piece that is not in the solution is out
    """

    solution: Solution | None
    problems: tuple[Words, ...]
    aside: dict[str, Words]


def solve_what_can_be(
    weighings: Iterable[Weighing],
    scales: Iterable[Scale],
    estimates: Iterable[PartEstimate] = (),
    *,
    arms: Mapping[str, str] = MappingProxyType({}),
    seed: int = 0,
) -> PartSolved:
    """Solve the ledger as ``solve_ledger`` does, without the pieces that an impossibility names.

    What lies in a contradiction is not trusted at all, so whatever else the same refusal names is
    set aside too; pieces that have nothing to do with it keep their yields.
    """
    kept, believed, known_scales = list(weighings), list(estimates), list(scales)
    problems: list[Words] = []
    aside: dict[str, Words] = {}
    while kept:
        try:
            solved = solve_ledger(kept, known_scales, believed, arms=arms, seed=seed)
        except LedgerError as error:
            problems += [problem for problem in error.problems if problem not in problems]
            aside |= dict.fromkeys(error.pieces, in_a_row(error.problems))
            left = [w for w in kept if not _is_named(w.id, w.piece, error)]
            if len(left) == len(kept):
                break
            kept = left
            believed = [e for e in believed if not _is_named(e.id, e.piece, error)]
        else:
            return PartSolved(solved, tuple(problems), aside)
    why = in_a_row(problems)
    aside |= {w.piece: why for w in kept if w.piece and w.piece not in aside}
    return PartSolved(None, tuple(problems), aside)


def _is_named(handle: str, piece: str | None, error: LedgerError) -> bool:
    # A tray that took part keeps its own weighing: it may be right, and others stood on it.
    return piece in error.pieces if piece and error.pieces else handle in error.weighings
