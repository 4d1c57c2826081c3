"""What every kind of entry has: an id made by whoever sends it, its trial, and how it is kept."""

from abc import abstractmethod
from dataclasses import dataclass
from typing import Annotated, ClassVar
from uuid import UUID

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field
from sqlalchemy import Connection, func, select

from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.notebook.tables import TABLES
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.clock import check_instant

Instant = Annotated[AwareDatetime, AfterValidator(check_instant)]
"""When something was: with its offset, in the years 1900 to 2999."""
Written = Annotated[str, Field(min_length=1, max_length=60)]
"""A quantity as a person writes it, with its unit: "250 °F", "5.57 kg"."""
Remark = Annotated[str, Field(max_length=20_000)]


@dataclass(frozen=True)
class Made:
    """The record that an entry made: its kind and handle; None when it made none of its own.

    ``placed``: False for a reading of a probe that has no place then.
    """

    kind: str | None = None
    handle: str | None = None
    placed: bool = True


class Entry(BaseModel):
    """An entry of any kind. Subclasses add ``kind``, their fields and how it is recorded."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    needs: ClassVar[May] = May.RECORD

    id: UUID = Field(description="Made by whoever sends it; sent again, nothing happens twice.")
    trial: Id

    @abstractmethod
    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write it into the notebook. Raises ValueError for what a person has to mend."""
        raise NotImplementedError


def next_handle(connection: Connection, trial: str, cook: str, kind: str) -> str:
    """Return a free handle such as "first-fire-event-7"; what was struck out keeps its own."""
    table = TABLES[kind].c
    of_cook = table.cook == cook if cook else table.cook.is_(None)
    counted = select(func.count()).where(table.trial_id == trial, of_cook)
    start = cook[:40].rstrip("-") or "trial"
    number = int(connection.scalar(counted) or 0) + 1
    while connection.scalar(
        select(table.id).where(table.trial_id == trial, table.id == f"{start}-{kind}-{number}")
    ):
        number += 1
    return f"{start}-{kind}-{number}"
