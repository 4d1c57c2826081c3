"""A weighing: what lay on the scale, and what it showed."""

from typing import Literal

from pydantic import Field

from fairsmoke.app.entries.base import Entry, Instant, Made, Remark, Written, next_handle
from fairsmoke.app.people.person import Person
from fairsmoke.arriving.doubted import refuse_new
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.weighing import Weighing

NOT_OF_WEIGHING = {"id", "trial", "kind", "reading", "insist"}
"""Fields of the entry that are none of the record."""


class WeighingEntry(Entry):
    """A weighing with the sum of its parts spelled out."""

    kind: Literal["weighing"]
    cook: Id | None = None
    piece: Id | None = None
    at: Instant
    scale: Id
    reading: Written = Field(description='What the scale showed, with its unit: "5.57 kg".')
    sum: tuple[Written, ...] = Field(
        min_length=1, max_length=20, description='What lay on it: "trimmed meat", "green tray".'
    )
    note: Remark = ""
    insist: bool = Field(
        default=False, description="It hardly can be true; keep it all the same, as doubted."
    )

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the weighing. Raises DoubtedError when it hardly can be true and nobody insists."""
        handle = next_handle(transaction.connection, self.trial, self.cook or "", "weighing")
        content = self.model_dump(exclude=NOT_OF_WEIGHING, exclude_none=True)
        weighing = Weighing.model_validate(
            {**content, "id": handle, "reading_kg": self.reading, "by": person.name}
        )
        transaction.save(weighing, trial=self.trial)
        if not self.insist:
            refuse_new(transaction.connection, self.trial, "weighing", handle)
        return Made("weighing", handle)
