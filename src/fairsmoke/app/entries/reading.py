"""A reading by hand: what a thermometer showed, typed in."""

from datetime import UTC, datetime
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, StringConstraints

from fairsmoke.app.entries.base import Entry, Instant, Made
from fairsmoke.app.people.person import Person
from fairsmoke.arriving.doubted import DoubtedError
from fairsmoke.arriving.doubts import check_in_window
from fairsmoke.arriving.hand_reading import JUMP_WITHIN, odd_reading, stay_at
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.readings import load_readings
from fairsmoke.notebook.rows import load_records
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import Readings, ReadingUnit

Digits = Annotated[str, StringConstraints(pattern=r"^-?[0-9]{1,4}([.,][0-9]{1,3})?$")]
"""A number as a display shows it."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class ReadingEntry(Entry):
    """One reading of one probe, kept with the digits that were shown."""

    kind: Literal["reading"]
    cook: Id
    probe: Id
    at: Instant
    value: Digits
    unit: ReadingUnit
    insist: bool = Field(default=False, description="It hardly can be true; keep it all the same.")

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the reading; say when its probe has no place then, so that it belongs to nothing.

        Raises JobError when the cook cannot have had it then, DoubtedError when it hardly can be
        true and nobody insists.
        """
        cook = transaction.get(Cook, self.cook, trial=self.trial)
        assert isinstance(cook, Cook)
        check_in_window(cook, self.at)
        kind = KINDS["placement"]
        found = load_records(transaction.connection, kind, self.trial, cook=self.cook)
        stays = [one for one in found if isinstance(one, Placement)]
        stay = stay_at(stays, self.probe, self.at)
        if not self.insist:
            odd = odd_reading(self.trial, stay, self.value, self.unit, self._before_c(transaction))
            if odd is not None:
                raise DoubtedError([odd])
        whole, _, behind = self.value.replace(",", ".").partition(".")
        one = Readings(
            np.array([(self.at - _EPOCH).total_seconds() * 1000 // 1], dtype=np.int64),
            np.array([int(whole + behind)], dtype=np.int64),
            len(behind),
            self.unit,
            np.zeros(1, dtype=np.uint8),
        )
        transaction.append_readings(self.trial, self.cook, {self.probe: one})
        return Made(placed=stay is not None)

    def _before_c(self, transaction: Transaction) -> float | None:
        """Return what the probe read last within a few minutes before."""
        start, end = epoch_ms(self.at - JUMP_WITHIN), epoch_ms(self.at)
        found = load_readings(transaction.connection, self.trial, self.cook, self.probe, start, end)
        values = found.value_c[found.believed]
        return float(values[-1]) if len(values) else None
