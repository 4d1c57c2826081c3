"""Readings of running cooks, kept in memory and brought up to date by what is new.

A night of a logger that writes each second is half a million readings; a page that looks every two
seconds must not unpack them each time. Readings are only ever added, so a count tells what is new.
"""

import threading

from fairsmoke.notebook import Notebook
from fairsmoke.trial.reading import Readings

_Key = tuple[str, str, str]
"""(trial, cook, probe)."""


class KeptReadings:
    """The readings of some cooks of one notebook; safe to use from any thread."""

    def __init__(self, book: Notebook, most: int = 64) -> None:
        self._book = book
        self._most = most
        self._kept: dict[_Key, tuple[int, Readings]] = {}
        self._lock = threading.Lock()

    def of_cook(self, trial: str, cook: str) -> dict[str, Readings]:
        """Return what each probe read in a cook, by its handle."""
        counts: dict[str, int] = {}
        for span in self._book.spans(trial, cook):
            counts[span.probe] = counts.get(span.probe, 0) + span.n
        return {probe: self._one((trial, cook, probe), count) for probe, count in counts.items()}

    def _one(self, key: _Key, count: int) -> Readings:
        with self._lock:
            before = self._kept.get(key)
        if before is not None and before[0] == count:
            return before[1]
        found = self._with_new(key, before, count) if before is not None else None
        if found is None:
            found = self._book.readings(*key)
        with self._lock:
            self._kept.pop(key, None)
            self._kept[key] = (count, found)
            while len(self._kept) > self._most:
                self._kept.pop(next(iter(self._kept)))
        return found

    def _with_new(self, key: _Key, before: tuple[int, Readings], count: int) -> Readings | None:
        """Return what was kept with what came behind it; None when anything came in between."""
        old = before[1]
        if not len(old):
            return None
        new = self._book.readings(*key, start_ms=int(old.time_ms[-1]) + 1)
        if before[0] + len(new) != count or new.unit != old.unit:
            return None
        return Readings.joined([old, new])
