"""The people of a notebook: who there is, adding, changing, and what they prefer."""

from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from fairsmoke.app.people.permissions import Role
from fairsmoke.app.people.person import Person, Preferences
from fairsmoke.app.people.secrets import PIN_DIGITS, is_pin, kept_pin
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import LINK, PERSON, SESSION
from fairsmoke.notebook.transaction import Transaction

FIRST = "Cook"
"""The name of the first person until they choose their own."""

_COLUMNS = PERSON.c


def person_of(row: Any) -> Person:
    """Return the person of a row of their table."""
    return Person(
        id=row.id,
        name=row.name,
        role=Role(row.role),
        preferences=Preferences.model_validate(row.preferences),
        taster=row.taster,
        has_pin=row.pin is not None,
        left=row.left_at is not None,
    )


def people(connection: Connection) -> list[Person]:
    """Return everybody who has not left, in the order of joining."""
    query = select(PERSON).where(_COLUMNS.left_at.is_(None)).order_by(_COLUMNS.id)
    return [person_of(row) for row in connection.execute(query)]


def find(connection: Connection, number: int) -> Person:
    """Return a person; raises AppError when there is none."""
    row = connection.execute(select(PERSON).where(_COLUMNS.id == number)).one_or_none()
    if row is None:
        raise AppError(404, "no-person", N_("There is no such person."))
    return person_of(row)


def add(transaction: Transaction, name: str, role: Role, taster: str | None = None) -> Person:
    """Add a person. Raises AppError when the name is empty or taken."""
    name = _free_name(transaction.connection, name)
    number = transaction.connection.execute(
        insert(PERSON).values(
            name=name, role=role, taster=taster, preferences={}, made_at=transaction.at
        )
    ).inserted_primary_key
    assert number is not None
    return find(transaction.connection, number[0])


def first_cook(transaction: Transaction) -> Person:
    """Return the first cook who is still here, made when there is none: who starts the app."""
    for person in people(transaction.connection):
        if person.role is Role.COOK:
            return person
    name, number = FIRST, 2
    while _is_taken(transaction.connection, name):
        name, number = f"{FIRST} {number}", number + 1
    return add(transaction, name, Role.COOK)


def rename(transaction: Transaction, person: Person, name: str) -> None:
    """Give a person another name. Raises AppError when it is empty or taken."""
    if name.strip() != person.name:
        free = _free_name(transaction.connection, name)
        _set(transaction.connection, person, name=free)


def prefer(transaction: Transaction, person: Person, preferences: Preferences) -> None:
    """Keep what a person prefers."""
    _set(transaction.connection, person, preferences=preferences.model_dump(exclude_defaults=True))


def set_pin(transaction: Transaction, person: Person, pin: str) -> None:
    """Give a person a PIN, or with an empty text none. Raises AppError for one that is too short.

    What is kept of it is worked out first, so that the notebook is not held up meanwhile: call it
    through ``pin_to_keep``.
    """
    _set(transaction.connection, person, pin=pin or None)


def pin_to_keep(pin: str) -> str:
    """Return what is to be kept of a PIN, "" for none; slow on purpose.

    Raises AppError for one that is not 6 to 12 digits.
    """
    if pin and not is_pin(pin):
        low, high = PIN_DIGITS
        raise AppError(422, "pin", N_("A PIN has %(low)s to %(high)s digits.", low=low, high=high))
    return kept_pin(pin) if pin else ""


def let_go(transaction: Transaction, person: Person) -> None:
    """End a person's access at once; what they recorded stays, with their name.

    Raises AppError for the last cook: somebody must be able to let people in.
    """
    cooks = [one for one in people(transaction.connection) if one.role is Role.COOK]
    if [one.id for one in cooks] == [person.id]:
        raise AppError(409, "last-cook", N_("The last cook cannot leave; add another first."))
    _set(transaction.connection, person, left_at=transaction.at, pin=None)
    for table in (SESSION, LINK):
        transaction.connection.execute(delete(table).where(table.c.person == person.id))


def _set(connection: Connection, person: Person, **values: Any) -> None:
    connection.execute(update(PERSON).where(_COLUMNS.id == person.id).values(**values))


def _is_taken(connection: Connection, name: str) -> bool:
    names = connection.scalars(select(_COLUMNS.name))
    return name.casefold() in {one.casefold() for one in names}


def _free_name(connection: Connection, given: str) -> str:
    name = " ".join(given.split())
    if not name or len(name) > 60 or not name.isprintable():
        raise AppError(422, "name", N_("Write a name of 1 to 60 letters."))
    if _is_taken(connection, name):
        raise AppError(
            422, "name-taken", N_("Somebody here is already called %(name)s.", name=name)
        )
    return name
