"""Whose cook is a reading that arrives by itself: told by the probe and the time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from fairsmoke.arriving.doubts import window
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement

NONE, UNSURE = -1, -2
"""No cook lies near that time; several do and nothing tells them apart."""


@dataclass(frozen=True)
class CookTime:
    """A cook of a trial and where its probes were; times in milliseconds since 1970 UTC.

    ``begin_ms`` to ``end_ms`` is when its loggers may run, ``starts_ms`` to ``ends_ms`` the cook
    itself (``end_ms`` while it has no end).
    """

    trial: str
    cook: Cook
    stays: tuple[Placement, ...]
    begin_ms: int
    end_ms: int
    starts_ms: int
    ends_ms: int

    @classmethod
    def of(cls, trial: str, cook: Cook, stays: Sequence[Placement]) -> Self:
        """Make one of a cook and the placements of its trial."""
        begin, end = map(epoch_ms, window(cook))
        own = tuple(stay for stay in stays if stay.cook == cook.id)
        ends = epoch_ms(cook.ends) if cook.ends else end
        return cls(trial, cook, own, begin, end, epoch_ms(cook.starts), ends)

    def has_placed(self, probe: str, at_ms: int) -> bool:
        """Tell whether the record says that the probe was in this cook at that time."""
        return any(
            stay.probe == probe
            and epoch_ms(stay.since) <= at_ms
            and at_ms < (epoch_ms(stay.until) if stay.until else self.end_ms)
            for stay in self.stays
        )

    def apart_ms(self, at_ms: int) -> int:
        """Return how far a time lies from the cook, 0 within it."""
        return max(self.starts_ms - at_ms, at_ms - self.ends_ms, 0)


class Cooks:
    """Every cook of a notebook, to be asked whose a reading is."""

    def __init__(self, cooks: Sequence[CookTime]) -> None:
        self.cooks = tuple(cooks)

    @classmethod
    def load(cls, notebook: Notebook) -> Self:
        """Read the cooks and placements of every trial."""
        found = []
        for trial in notebook.trials():
            stays = notebook.list(Placement, trial=trial.id)
            found += [
                CookTime.of(trial.id, cook, stays) for cook in notebook.list(Cook, trial=trial.id)
            ]
        return cls(found)

    def whose(self, probe: str, time_ms: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return for each time (n,), in order, the index of its cook, ``NONE`` or ``UNSURE``.

        The cook in which the probe was placed at that time has it; else the nearest cook whose
        time it can be (12 h before its start to 24 h after its end); of several that are as near,
        the only one that has the probe at all.
        """
        if not time_ms.size:
            return np.empty(0, dtype=np.int64)
        low, high = int(time_ms[0]), int(time_ms[-1])
        near = [
            index
            for index, one in enumerate(self.cooks)
            if one.begin_ms <= high and low <= one.end_ms
        ]
        if (
            len(near) == 1
            and self.cooks[near[0]].begin_ms <= low
            and (high <= self.cooks[near[0]].end_ms)
        ):
            return np.full(time_ms.size, near[0], dtype=np.int64)
        return np.array([self._one(near, probe, at) for at in time_ms.tolist()], dtype=np.int64)

    def _one(self, near: Sequence[int], probe: str, at_ms: int) -> int:
        placed = [i for i in near if self.cooks[i].has_placed(probe, at_ms)]
        if placed:
            return placed[0] if len(placed) == 1 else UNSURE
        inside = [i for i in near if self.cooks[i].begin_ms <= at_ms <= self.cooks[i].end_ms]
        if not inside:
            return NONE
        least = min(self.cooks[i].apart_ms(at_ms) for i in inside)
        nearest = [i for i in inside if self.cooks[i].apart_ms(at_ms) == least]
        if len(nearest) > 1:
            known = [i for i in nearest if any(stay.probe == probe for stay in self.cooks[i].stays)]
            nearest = known or nearest
        return nearest[0] if len(nearest) == 1 else UNSURE
