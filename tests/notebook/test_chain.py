"""What was changed in the file behind the program's back is found: who, when, why, what it was."""

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.transfer import notebook_of_folder

DATA = Path(__file__).parent / "data" / "by-hand"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("chain") / "hall.db"
    with notebook_of_folder(path, DATA, by="Ada") as book:
        change = {"at": "2026-05-03 05:15"}
        book.correct(
            "event", "first-fire-event-2", change, why="wrong clock", trial="paper-or-bare"
        )
    return path


@pytest.fixture
def altered(made: Path, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """Give a copy of the notebook in which anything may be changed."""
    path = tmp_path / "altered.db"
    path.write_bytes(made.read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        yield connection


def found(connection: sqlite3.Connection) -> list[str]:
    connection.commit()
    path = connection.execute("PRAGMA database_list").fetchone()[2]
    with Notebook.open(path) as book:
        said = [str(one) for one in book.check()]
    return [one for one in said if "guards" not in one]


# The first state of the event that was corrected later: no record says it any more.
_EARLIER = "kind = 'event' AND record_id = 'first-fire-event-2' AND number = 1"


def test_nothing_is_found_in_what_was_not_touched(altered: sqlite3.Connection) -> None:
    assert found(altered) == []


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE revision SET by = 'Bob' WHERE ",
        "UPDATE revision SET recorded_at = recorded_at + 1 WHERE ",
        "UPDATE revision SET why = 'because' WHERE ",
        "UPDATE revision SET struck = 1 WHERE ",
        "UPDATE revision SET body = replace(body, 'wrap', 'spritz') WHERE ",
        "UPDATE revision SET seal = '' WHERE ",
        "UPDATE revision SET record_id = 'another' WHERE ",
    ],
)
def test_an_earlier_state_that_was_changed_is_found(
    altered: sqlite3.Connection, change: str
) -> None:
    assert altered.execute(change + _EARLIER).rowcount == 1
    assert any("changed since it was recorded" in one for one in found(altered))


def test_a_revision_that_was_taken_away_is_found(altered: sqlite3.Connection) -> None:
    altered.execute("PRAGMA foreign_keys = OFF")
    altered.execute(f"DELETE FROM revision WHERE {_EARLIER}")
    assert any("one before it was taken away" in one for one in found(altered))


def test_a_seal_is_the_sha_256_that_the_docs_say(altered: sqlite3.Connection) -> None:
    # Worked out here anew, from docs/notebook.md; SHA-256 itself is FIPS 180-4, by hashlib.
    altered.row_factory = sqlite3.Row
    before = ""
    for row in altered.execute("SELECT * FROM revision ORDER BY id"):
        names = ("id", "kind", "trial_id", "record_id", "number", "recorded_at", "by", "why")
        said = [before, *(row[name] for name in names), bool(row["struck"])]
        said.append(json.loads(row["body"]))
        text = json.dumps(said, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        before = hashlib.sha256(text.encode()).hexdigest()
        assert row["seal"] == before
