"""Tokens of devices."""

import pytest

from fairsmoke.app.people import devices, register
from fairsmoke.app.problems import AppError
from fairsmoke.arriving.writer import note_seen
from fairsmoke.notebook import Notebook


def test_a_token_tells_its_device_until_it_is_ended(book: Notebook) -> None:
    with book.transaction() as transaction:
        cook = register.first_cook(transaction)
        made, token = devices.add(transaction, "Logger by the door", cook)
        note_seen(transaction, made.id)
    with book.reading() as connection:
        found = devices.device_of(connection, token)
        assert found is not None
        assert (found.name, found.seen_at is not None) == ("Logger by the door", True)
        assert devices.device_of(connection, token[:-1]) is None
    with book.transaction() as transaction:
        with pytest.raises(AppError, match="already called"):
            devices.add(transaction, "logger by  the door", cook)
        devices.end(transaction, made.id)
    with book.reading() as connection:
        assert devices.device_of(connection, token) is None
        assert devices.devices(connection) == []
