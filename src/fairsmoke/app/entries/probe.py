"""Moving a probe: it is from now on somewhere else, or nowhere."""

from typing import Literal

from fairsmoke.app.entries.base import Entry, Instant, Made, Remark, Written, next_handle
from fairsmoke.app.entries.consistency import refuse_unsound
from fairsmoke.app.entries.event import Where
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_records
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.probe import Placement

MEASURES = ("core", "surface", "pit", "cabinet", "wet bulb", "room")


class ProbeEntry(Entry):
    """Where a probe is from a moment on. Without ``measures`` it is taken out."""

    kind: Literal["probe"]
    cook: Id
    probe: Id
    at: Instant
    measures: Literal["core", "surface", "pit", "cabinet", "wet bulb", "room"] | None = None
    piece: Id | None = None
    spot: Where | None = None
    where: Remark = ""
    depth: Written | None = None

    def record(self, transaction: Transaction, person: Person) -> Made:
        """End where it was, and write where it is."""
        stays = [
            one
            for one in load_records(
                transaction.connection, KINDS["placement"], self.trial, cook=self.cook
            )
            if isinstance(one, Placement) and one.probe == self.probe
        ]
        running = [one for one in stays if one.until is None]
        for stay in stays:
            if stay.since >= self.at:
                message = N_("This probe was moved since then. Take that back first.")
                raise AppError(422, "refused", message)
            if stay.until is not None and stay.until > self.at:
                message = N_("This probe was then still elsewhere; choose a later time.")
                raise AppError(422, "refused", message)
        for stay in running:
            ended = stay.model_copy(update={"until": self.at})
            transaction.save(ended, trial=self.trial, why="the probe was moved")
        if self.measures is None:
            if not running:
                raise AppError(422, "refused", N_("This probe is nowhere in this cook."))
            return Made("placement", running[0].id)
        handle = next_handle(transaction.connection, self.trial, self.cook, "placement")
        content = self.model_dump(exclude={"id", "trial", "kind", "at", "depth"}, exclude_none=True)
        placement = Placement.model_validate(
            {**content, "id": handle, "since": self.at, "depth_m": self.depth}
        )
        transaction.save(placement, trial=self.trial)
        refuse_unsound(transaction, self.trial, self.cook, handle)
        return Made("placement", handle)


def undo_move(transaction: Transaction, trial: str, handle: str, why: str) -> None:
    """Take a move back: the probe is where it was before.

    Raises AppError when it was moved once more since.
    """
    last = transaction.get(Placement, handle, trial=trial)
    assert isinstance(last, Placement)
    stays = [
        one
        for one in load_records(transaction.connection, KINDS["placement"], trial, cook=last.cook)
        if isinstance(one, Placement) and one.probe == last.probe
    ]
    if any(one.since > last.since for one in stays):
        raise AppError(422, "refused", N_("This probe was moved again. Take that back first."))
    if last.until is not None:
        # It was taken out by the entry that is taken back.
        transaction.save(last.model_copy(update={"until": None}), trial=trial, why=why)
        return
    transaction.strike(Placement, handle, why=why, trial=trial)
    for before in stays:
        if before.id != handle and before.until == last.since:
            transaction.save(before.model_copy(update={"until": None}), trial=trial, why=why)
