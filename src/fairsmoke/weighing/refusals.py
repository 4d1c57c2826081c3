"""Refuses weighings that cannot all be true, and says which, by how much and what to do."""

from collections.abc import Iterable, Sequence

import numpy as np

from fairsmoke.quantity import Units, show_mass_small
from fairsmoke.weighing.adjust import TINY
from fairsmoke.weighing.errors import LedgerError
from fairsmoke.weighing.rows import listed
from fairsmoke.weighing.solve import ALL_OF_REACH, Answer, Drawn, Group
from fairsmoke.weighing.sources import disagreements_of
from fairsmoke.weighing.system import Observation, System

# With fewer draws possible than this, errors would have to stand at their limits all at once.
_HOPELESS = 0.01
_DESCRIBE = "; if the scale is worse than described, describe its repeatability."


def refuse_if_impossible(
    system: System, split: Sequence[Group], solved: Sequence[Answer], units: Units
) -> None:
    """Raise LedgerError when a part falls below nothing, or meat outweighs what went on."""
    problems: list[str] = []
    seen: list[Observation] = []
    for group, answer in zip(split, solved, strict=True):
        slope = group.equations.sums @ answer.adjustment.gain
        falls = np.flatnonzero(answer.short > 0)
        for at in falls:
            cause = _named(system, group, np.abs(slope[at]) > TINY)
            value = float(group.equations.sums[at] @ answer.adjustment.best)
            problems.append(_sentence(system, int(group.sums[at]), value, cause, units))
            seen += cause
        stretch = answer.stretch
        if not falls.size and stretch is not None and stretch.share > ALL_OF_REACH:
            cause = _named(system, group, stretch.bent)
            worst = int(np.argmax(stretch.pull))
            value = -stretch.share / float(stretch.pull[worst])
            problems.append(_sentence(system, int(group.sums[worst]), value, cause, units))
            seen += cause
    if not problems:
        return
    ids = {one.id for one in seen}
    for disagreement in disagreements_of(system, split, solved):
        if ids & set(disagreement.ids):
            problems.append(disagreement.text(units))
            seen += disagreement.observations
    raise _error(problems, seen)


def refuse_if_hopeless(
    system: System, split: Sequence[Group], drawn: Sequence[Drawn], units: Units
) -> None:
    """Raise LedgerError when only errors at their limits, all at once, would make sense of it."""
    for group, one in zip(split, drawn, strict=True):
        if one.possible_share < _HOPELESS:
            seen = [system.observations[at] for at in group.observations]
            names = listed([observation.text(units) for observation in seen])
            raise _error(
                [
                    "these can only be true together if every scale errs as far as it can at "
                    f"once: {names}. Look for the one that is wrong, or for a part that is "
                    f"missing from a sum{_DESCRIBE}"
                ],
                seen,
            )


def _named(system: System, group: Group, which: np.ndarray) -> list[Observation]:
    return [system.observations[at] for at in group.observations[which]]


def _error(problems: Sequence[str], seen: Iterable[Observation]) -> LedgerError:
    unique = dict.fromkeys(seen)
    pieces = sorted({one.piece for one in unique if one.piece})
    return LedgerError(
        *problems, pieces=tuple(pieces), weighings=tuple(dict.fromkeys(one.id for one in unique))
    )


def _sentence(
    system: System, at: int, value_kg: float, cause: Sequence[Observation], units: Units
) -> str:
    amount = show_mass_small(abs(value_kg), units)
    look = listed([observation.text(units) for observation in cause])
    if at < len(system.parts):
        part = system.parts[at]
        return (
            f"The {part.text} would have to be {amount} less than nothing, further than the "
            f"scales can err. Look at {look}: correct the one that is wrong, or name the part "
            f"that is missing from its sum{_DESCRIBE}"
        )
    limit = system.limits[at - len(system.parts)]
    source = listed([part.part.text for part in limit.comes_from])
    return (
        f"The {limit.meat.text} outweighs all that it can come from ({source}) by {amount}, "
        f"further than the scales can err. Look at {look}: correct the one that is wrong, or name "
        f"what else lay on the scale (wrap, tray, clinging fat) or was added to the meat{_DESCRIBE}"
    )
