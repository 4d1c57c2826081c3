"""Devices that send readings: each has a token of its own, shown once."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, insert, select, update

from fairsmoke.app.people.person import Person
from fairsmoke.app.people.secrets import digest_of, new_token
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import DEVICE
from fairsmoke.notebook.transaction import Transaction


@dataclass(frozen=True)
class Device:
    """Something that sends readings by itself."""

    id: int
    name: str
    made_at: datetime
    seen_at: datetime | None


def add(transaction: Transaction, name: str, by: Person) -> tuple[Device, str]:
    """Add a device; return it with its token, which is kept only as a digest.

    Raises AppError when the name is empty or taken.
    """
    name = " ".join(name.split())
    if not name or len(name) > 60 or not name.isprintable():
        raise AppError(422, "name", N_("Write a name of 1 to 60 letters."))
    taken = transaction.connection.scalars(select(DEVICE.c.name))
    if name.casefold() in {one.casefold() for one in taken}:
        message = N_("A device is already called %(name)s.", name=name)
        raise AppError(422, "name-taken", message)
    token = new_token()
    key = transaction.connection.execute(
        insert(DEVICE).values(
            name=name, token_digest=digest_of(token), made_by=by.id, made_at=transaction.at
        )
    ).inserted_primary_key
    assert key is not None
    return Device(key[0], name, transaction.at, None), token


def devices(connection: Connection) -> list[Device]:
    """Return every device whose token still works."""
    query = select(DEVICE).where(DEVICE.c.ended_at.is_(None)).order_by(DEVICE.c.id)
    return [_device(row) for row in connection.execute(query)]


def device_of(connection: Connection, token: str) -> Device | None:
    """Return the device whose token that is."""
    query = select(DEVICE).where(
        DEVICE.c.token_digest == digest_of(token), DEVICE.c.ended_at.is_(None)
    )
    row = connection.execute(query).one_or_none()
    return None if row is None else _device(row)


def end(transaction: Transaction, number: int) -> None:
    """End a device's access; what it sent stays."""
    transaction.connection.execute(
        update(DEVICE).where(DEVICE.c.id == number).values(ended_at=transaction.at)
    )


def _device(row: object) -> Device:
    return Device(row.id, row.name, row.made_at, row.seen_at)  # type: ignore[attr-defined]
