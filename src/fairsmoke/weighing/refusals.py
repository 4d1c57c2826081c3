"""Refuses weighings that cannot all be true, and says which, by how much and what to do."""

from collections.abc import Iterable, Sequence

import numpy as np

from fairsmoke.messages.message import N_, Listed, Message, Words
from fairsmoke.quantity.values import Mass
from fairsmoke.weighing.adjust import TINY
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.solve import ALL_OF_REACH, Drawn, Group, SolvedEquations
from fairsmoke.weighing.sources import disagreements_of
from fairsmoke.weighing.system import BalanceEquations, Observation

# With fewer draws possible than this, errors would have to stand at their limits all at once.
_HOPELESS = 0.01


def refuse_if_impossible(
    system: BalanceEquations, split: Sequence[Group], solved: Sequence[SolvedEquations]
) -> None:
    """Raise LedgerError when a part falls below nothing, or meat outweighs what went on."""
    problems: list[Words] = []
    seen: list[Observation] = []
    for group, answer in zip(split, solved, strict=True):
        slope = group.equations.sums @ answer.adjustment.gain
        falls = np.flatnonzero(answer.short > 0)
        for at in falls:
            cause = _named(system, group, np.abs(slope[at]) > TINY)
            value = float(group.equations.sums[at] @ answer.adjustment.best)
            problems.append(_sentence(system, int(group.sums[at]), value, cause))
            seen += cause
        stretch = answer.stretch
        if not falls.size and stretch is not None and stretch.share > ALL_OF_REACH:
            cause = _named(system, group, stretch.bent)
            worst = int(np.argmax(stretch.pull))
            value = -stretch.share / float(stretch.pull[worst])
            problems.append(_sentence(system, int(group.sums[worst]), value, cause))
            seen += cause
    if not problems:
        return
    ids = {one.id for one in seen}
    for disagreement in disagreements_of(system, split, solved):
        if ids & set(disagreement.ids):
            problems.append(disagreement.words)
            seen += disagreement.observations
    raise _error(problems, seen)


def refuse_if_hopeless(
    system: BalanceEquations, split: Sequence[Group], drawn: Sequence[Drawn]
) -> None:
    """Raise LedgerError when only errors at their limits, all at once, would make sense of it."""
    for group, one in zip(split, drawn, strict=True):
        if one.possible_share < _HOPELESS:
            seen = [system.observations[at] for at in group.observations]
            problem = N_(
                "these can only be true together if every scale errs as far as it can at once: "
                "%(all)s. Look for the one that is wrong, or for a part that is missing from a "
                "sum; if the scale is worse than described, describe its repeatability.",
                all=Listed([observation.words for observation in seen], "and"),
            )
            raise _error([problem], seen)


def _named(system: BalanceEquations, group: Group, which: np.ndarray) -> list[Observation]:
    return [system.observations[at] for at in group.observations[which]]


def _error(problems: Sequence[Words], seen: Iterable[Observation]) -> LedgerError:
    unique = dict.fromkeys(seen)
    pieces = sorted({one.piece for one in unique if one.piece})
    return LedgerError(
        *problems, pieces=tuple(pieces), weighings=tuple(dict.fromkeys(one.id for one in unique))
    )


def _sentence(
    system: BalanceEquations, at: int, value_kg: float, cause: Sequence[Observation]
) -> Message:
    amount = Mass(abs(value_kg), small=True)
    look = Listed([observation.words for observation in cause], "and")
    if at < len(system.parts):
        return N_(
            "The %(part)s would have to be %(amount)s less than nothing, further than the scales "
            "can err. Look at %(look)s: correct the one that is wrong, or name the part that is "
            "missing from its sum; if the scale is worse than described, describe its "
            "repeatability.",
            part=system.parts[at].words,
            amount=amount,
            look=look,
        )
    limit = system.limits[at - len(system.parts)]
    return N_(
        "The %(meat)s outweighs all that it can come from (%(source)s) by %(amount)s, further than "
        "the scales can err. Look at %(look)s: correct the one that is wrong, or name what else "
        "lay on the scale (wrap, tray, clinging fat) or was added to the meat; if the scale is "
        "worse than described, describe its repeatability.",
        meat=limit.meat.words,
        source=Listed([part.part.words for part in limit.comes_from], "and"),
        amount=amount,
        look=look,
    )
