"""Signing in: links and PINs, and the sessions that come of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, insert, or_, select, update

from fairsmoke.app.people.person import Person
from fairsmoke.app.people.register import person_of
from fairsmoke.app.people.secrets import digest_of, new_token, pin_is
from fairsmoke.notebook.app_tables import LINK, PERSON, SESSION
from fairsmoke.notebook.transaction import Transaction

_ID = 16
"""Letters of a session's digest by which it is named: enough to tell a person's apart."""
SEEN_EVERY = timedelta(minutes=10)
"""How exactly it is known when a session was last used; each time exactly would be a write."""


def make_link(transaction: Transaction, person: Person, lasts: timedelta) -> str:
    """Return the token of a link that signs a person in once, until it ends."""
    token = new_token()
    transaction.connection.execute(
        insert(LINK).values(
            token_digest=digest_of(token),
            person=person.id,
            made_at=transaction.at,
            ends_at=transaction.at + lasts,
        )
    )
    return token


def person_of_link(connection: Connection, token: str, now: datetime) -> Person | None:
    """Return whom a link signs in, None when it is used up, too old or not one."""
    row = connection.execute(
        select(PERSON)
        .join(LINK, LINK.c.person == PERSON.c.id)
        .where(
            LINK.c.token_digest == digest_of(token),
            LINK.c.used_at.is_(None),
            LINK.c.ends_at > now,
            PERSON.c.left_at.is_(None),
        )
    ).one_or_none()
    return None if row is None else person_of(row)


def use_link(transaction: Transaction, token: str) -> Person | None:
    """Use a link up and return whom it signs in."""
    person = person_of_link(transaction.connection, token, transaction.at)
    if person is not None:
        where = LINK.c.token_digest == digest_of(token)
        transaction.connection.execute(update(LINK).where(where).values(used_at=transaction.at))
    return person


def person_of_pin(connection: Connection, name: str, pin: str) -> Person | None:
    """Return who has that name and that PIN; as slow when there is nobody."""
    # Compared here, because the database knows no small letter for Ö.
    wanted = " ".join(name.split()).casefold()
    query = select(PERSON).where(PERSON.c.left_at.is_(None))
    row = next((row for row in connection.execute(query) if row.name.casefold() == wanted), None)
    right = pin_is(pin, None if row is None else row.pin)
    return person_of(row) if right else None


def begin(transaction: Transaction, person: Person, lasts: timedelta, what: str) -> str:
    """Begin a session and return its token; ``what`` says on which device."""
    token = new_token()
    transaction.connection.execute(
        insert(SESSION).values(
            token_digest=digest_of(token),
            person=person.id,
            made_at=transaction.at,
            seen_at=transaction.at,
            ends_at=transaction.at + lasts,
            what=what[:200],
        )
    )
    return token


def find(connection: Connection, token: str, now: datetime) -> tuple[Person, datetime] | None:
    """Return whose session a token is and when it was last seen; None when it has ended."""
    row = connection.execute(
        select(PERSON, SESSION.c.seen_at)
        .join(SESSION, SESSION.c.person == PERSON.c.id)
        .where(
            SESSION.c.token_digest == digest_of(token),
            SESSION.c.ends_at > now,
            PERSON.c.left_at.is_(None),
        )
    ).one_or_none()
    return None if row is None else (person_of(row), row.seen_at)


def seen(transaction: Transaction, token: str, lasts: timedelta) -> None:
    """Note that a session is in use, and let it last from now."""
    transaction.connection.execute(
        update(SESSION)
        .where(SESSION.c.token_digest == digest_of(token))
        .values(seen_at=transaction.at, ends_at=transaction.at + lasts)
    )


@dataclass(frozen=True)
class SignedInOn:
    """Where somebody is signed in: with which browser, since when, last seen when.

    ``id`` tells it apart from the others and signs nobody in.
    """

    id: str
    what: str
    began: datetime
    seen: datetime
    here: bool


def of_person(
    connection: Connection, person: Person, cookie: str, now: datetime
) -> list[SignedInOn]:
    """Return a person's sessions, the last seen first; ``cookie`` is that of whoever asks."""
    query = (
        select(SESSION)
        .where(SESSION.c.person == person.id, SESSION.c.ends_at > now)
        .order_by(SESSION.c.seen_at.desc())
    )
    own = digest_of(cookie)
    return [
        SignedInOn(
            row.token_digest[:_ID], row.what, row.made_at, row.seen_at, row.token_digest == own
        )
        for row in connection.execute(query)
    ]


def end_one(transaction: Transaction, person: Person, session: str) -> None:
    """End one session of a person, by its id; nothing happens when it has ended."""
    if len(session) == _ID:
        transaction.connection.execute(
            delete(SESSION).where(
                SESSION.c.person == person.id,
                SESSION.c.token_digest.startswith(session, autoescape=True),
            )
        )


def end_others(transaction: Transaction, person: Person, cookie: str = "") -> None:
    """End every session of a person but the one of this cookie, and links not yet used."""
    transaction.connection.execute(
        delete(SESSION).where(
            SESSION.c.person == person.id, SESSION.c.token_digest != digest_of(cookie)
        )
    )
    transaction.connection.execute(delete(LINK).where(LINK.c.person == person.id))


def end(transaction: Transaction, tokens: Sequence[str]) -> None:
    """End sessions."""
    digests = [digest_of(token) for token in tokens]
    transaction.connection.execute(delete(SESSION).where(SESSION.c.token_digest.in_(digests)))


def clear(transaction: Transaction) -> None:
    """Remove sessions and links that have ended."""
    for table in (SESSION, LINK):
        ended = [table.c.ends_at <= transaction.at]
        if table is LINK:
            ended.append(LINK.c.used_at.is_not(None))
        transaction.connection.execute(delete(table).where(or_(*ended)))
