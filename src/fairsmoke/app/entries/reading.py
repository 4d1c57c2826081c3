"""A reading by hand: what a thermometer showed, typed in."""

from datetime import UTC, datetime
from typing import Annotated, Literal

import numpy as np
from pydantic import StringConstraints

from fairsmoke.app.entries.base import Entry, Instant, Made
from fairsmoke.app.people.person import Person
from fairsmoke.arriving.doubts import check_in_window
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.cook import Cook
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

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the reading. Raises JobError when the cook cannot have had it then."""
        cook = transaction.get(Cook, self.cook, trial=self.trial)
        assert isinstance(cook, Cook)
        check_in_window(cook, self.at)
        whole, _, behind = self.value.replace(",", ".").partition(".")
        one = Readings(
            np.array([(self.at - _EPOCH).total_seconds() * 1000 // 1], dtype=np.int64),
            np.array([int(whole + behind)], dtype=np.int64),
            len(behind),
            self.unit,
            np.zeros(1, dtype=np.uint8),
        )
        transaction.append_readings(self.trial, self.cook, {self.probe: one})
        return Made()
