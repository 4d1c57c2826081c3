"""Leaving readings out that were typed wrongly: they stay recorded, and are not believed."""

from typing import Literal

from fairsmoke.app.entries.base import Entry, Instant, Made, Remark, next_handle
from fairsmoke.app.people.person import Person
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.figure import Exclusion


class OmitEntry(Entry):
    """Leaves out what a probe read in a stretch, and says why."""

    kind: Literal["omit"]
    cook: Id
    probe: Id
    since: Instant
    until: Instant
    at: Instant
    why: Remark = ""

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the exclusion."""
        handle = next_handle(transaction.connection, self.trial, self.cook, "exclusion")
        exclusion = Exclusion(
            id=handle,
            why=self.why.strip() or "typed wrongly, taken back at once",
            probe=self.probe,
            cook=self.cook,
            since=self.since,
            until=self.until,
            decided=self.at,
            by=person.name,
        )
        transaction.save(exclusion, trial=self.trial)
        return Made("exclusion", handle)
