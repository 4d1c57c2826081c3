"""Errors that several observations have in common, and that therefore do not average out.

What is guessed of a part for the pieces of an arm is one unknown, however many pieces it is written
down for: who guessed too little for one of them guessed too little for all. A load put on the same
scale again meets the same error of that scale; and a display that shows the same number again was
rounded the same way. The errors of observations are then sums of fewer, independent unknowns: what
JCGM 100 F.1.2.3 calls the common influence quantities.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from fairsmoke.trial.weighing import PartEstimate, Weighing
from fairsmoke.weighing.draws import DrawErrors
from fairsmoke.weighing.system import Observation, PartOf

FloatArray = NDArray[np.float64]


def with_common_errors(
    observations: Iterable[Observation],
    weighings: Iterable[Weighing],
    estimates: Iterable[PartEstimate],
    arms: Mapping[str, str],
) -> list[Observation]:
    """Return the observations with the names of the errors that they share with others.

    ``arms`` tells the arm of each piece. Estimates of one part are one guess for all pieces of an
    arm, each at the same share of its own distribution. Between arms they stay apart: were they one
    there too, the error would cancel from the difference, and nothing says that it does.
    """
    names: dict[str, dict[str, str]] = {}
    for one in estimates:
        if one.piece is not None and one.piece in arms:
            names[one.id] = {"estimate": repr((arms[one.piece], one.part.text))}
    for weighing in weighings:
        parts = [PartOf.named(weighing.piece, part).order for part in weighing.sum]
        load = repr((weighing.scale, sorted(parts)))
        said = repr((load, weighing.reading_kg))
        names[weighing.id] = {"scale": load, "resolution": said}
    seen = list(observations)
    found = [
        {
            kind: f"{kind} {name}"
            for kind, name in names.get(one.id, {}).items()
            if one.variance_kg2.get(kind, 0.0) > 0.0
        }
        for one in seen
    ]
    uses = Counter(name for own in found for name in own.values())
    return [
        replace(one, common={kind: name for kind, name in own.items() if uses[name] > 1})
        for one, own in zip(seen, found, strict=True)
    ]


def draw_common(observations: Iterable[Observation], size: int, seed: int) -> dict[str, FloatArray]:
    """Draw ``size`` values of each error that observations share, by its name.

    In kg; of estimates the share of its distribution at which each of them lies.
    """
    laws = {name: (one, kind) for one in observations for kind, name in one.common.items()}
    found: dict[str, FloatArray] = {}
    for at, (name, (one, kind)) in enumerate(sorted(laws.items(), key=lambda item: item[0])):
        rng = np.random.default_rng([seed, at])
        if one.law is None:
            found[name] = one.draw_errors_kg(size, rng, (kind,))
        else:
            found[name] = rng.uniform(size=size)
    return found


@dataclass(frozen=True, eq=False)
class GroupErrors:
    """The errors (m, M) of a group's observations as loading (m, u) @ independent unknowns (u, M).

    ``laws`` draw the unknowns. ``start`` holds, by their number, those that were drawn beforehand
    because observations outside of the group share them too. Columns that are drawn again because
    something was impossible keep what is common within the group only.
    """

    laws: tuple[DrawErrors, ...]
    loading: FloatArray
    start: Mapping[int, FloatArray]

    @classmethod
    def of(
        cls, observations: Sequence[Observation], common: Mapping[str, FloatArray]
    ) -> "GroupErrors":
        """Split the errors of observations into unknowns."""
        laws: list[DrawErrors] = []
        columns: list[FloatArray] = []
        start: dict[int, FloatArray] = {}
        places: dict[str, int] = {}

        def add(law: DrawErrors) -> int:
            laws.append(law)
            columns.append(np.zeros(len(observations)))
            return len(laws) - 1

        for at, one in enumerate(observations):
            own = tuple(kind for kind in one.variance_kg2 if kind not in one.common)
            if own:
                columns[add(partial(one.draw_errors_kg, kinds=own))][at] = 1.0
            for kind, name in one.common.items():
                if one.law is not None:
                    place = add(one.draw_errors_kg)
                    start[place] = one.law.ppf(common[name]) - one.value_kg
                    columns[place][at] = 1.0
                    continue
                if name not in places:
                    places[name] = add(partial(one.draw_errors_kg, kinds=(kind,)))
                    start[places[name]] = common[name]
                columns[places[name]][at] = 1.0
        return cls(tuple(laws), np.column_stack(columns), start)
