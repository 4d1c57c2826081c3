"""What the database itself refuses, whoever asks: changing the past.

Revisions, readings, entries and pictures can only be added; a loose reading leaves only into a
block, one that waits for its name only into the record. A record's row can only be changed together
with a new revision of that record, and can never be deleted.
"""

from collections.abc import Iterator

from sqlalchemy import Connection, text

from fairsmoke.notebook.kinds import KINDS, Kind

PREFIX = "keep_"
"""How the names of these triggers begin."""


def _refuse(name: str, when: str, message: str) -> str:
    return f"CREATE TRIGGER {PREFIX}{name} {when} BEGIN SELECT RAISE(ABORT, '{message}'); END"


def _has_its_revision(kind: Kind) -> str:
    owner = "NEW.trial_id" if kind.of_trial else ("NEW.id" if kind.name == "trial" else "''")
    return (
        "EXISTS (SELECT 1 FROM revision WHERE revision.id = NEW.last_revision "
        f"AND kind = '{kind.name}' AND trial_id = {owner} AND record_id = NEW.id "
        "AND struck = NEW.struck)"
    )


_IN_A_BLOCK = (
    "EXISTS (SELECT 1 FROM reading_block b WHERE b.trial_id = OLD.trial_id AND b.cook = OLD.cook "
    "AND b.probe = OLD.probe AND b.source IS OLD.source AND b.unit = OLD.unit "
    "AND b.decimals = OLD.decimals AND OLD.time_ms BETWEEN b.start_ms AND b.end_ms)"
)

# A clock that was put right moves the time: such a reading names what it was held for.
_IN_THE_RECORD = (
    "OLD.hold <> '' OR EXISTS (SELECT 1 FROM channel c JOIN loose_reading r ON r.probe = c.probe "
    "WHERE c.id = OLD.channel AND r.time_ms = OLD.time_ms) "
    "OR EXISTS (SELECT 1 FROM channel c JOIN reading_block b ON b.probe = c.probe "
    "WHERE c.id = OLD.channel AND OLD.time_ms BETWEEN b.start_ms AND b.end_ms)"
)


def _article(table: str) -> str:
    return "an" if table[0] in "aeiou" else "a"


def statements() -> Iterator[str]:
    """Yield the statements that create the triggers."""
    for table in ("revision", "reading_block", "entry", "attachment"):
        for verb in ("UPDATE", "DELETE"):
            yield _refuse(
                f"{table}_{verb.lower()}",
                f"BEFORE {verb} ON {table}",
                f"{_article(table)} {table.replace('_', ' ')} is never changed or deleted",
            )
    yield _refuse(
        "loose_reading_update",
        "BEFORE UPDATE ON loose_reading",
        "a reading is never changed",
    )
    yield _refuse(
        "loose_reading_delete",
        f"BEFORE DELETE ON loose_reading WHEN NOT {_IN_A_BLOCK}",
        "a reading leaves only into a block",
    )
    yield _refuse(
        "waiting_reading_update",
        "BEFORE UPDATE ON waiting_reading",
        "a reading is never changed",
    )
    yield _refuse(
        "waiting_reading_delete",
        f"BEFORE DELETE ON waiting_reading WHEN NOT ({_IN_THE_RECORD})",
        "a reading that waits leaves only into the record",
    )
    for kind in KINDS.values():
        sound = _has_its_revision(kind)
        yield _refuse(
            f"{kind.name}_insert",
            f"BEFORE INSERT ON {kind.name} WHEN NOT ({sound})",
            f"a {kind.name} is recorded only together with its revision",
        )
        yield _refuse(
            f"{kind.name}_update",
            f"BEFORE UPDATE ON {kind.name} "
            f"WHEN NOT (NEW.last_revision > OLD.last_revision AND {sound})",
            f"a {kind.name} is changed only together with a new revision",
        )
        yield _refuse(
            f"{kind.name}_delete",
            f"BEFORE DELETE ON {kind.name}",
            f"a {kind.name} is struck out, never deleted",
        )


def create_triggers(connection: Connection) -> None:
    """Put every trigger in place."""
    for statement in statements():
        connection.execute(text(statement))


def drop_triggers(connection: Connection) -> None:
    """Take every trigger away: only a migration may, inside its transaction."""
    found = connection.execute(
        text("SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE :prefix"),
        {"prefix": f"{PREFIX}%"},
    )
    for name in found.scalars().all():
        connection.execute(text(f'DROP TRIGGER "{name}"'))
