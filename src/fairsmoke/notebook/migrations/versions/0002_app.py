"""Readings that arrive one by one, and what lies beside the record for the programs that serve it.

Written out, not taken from tables.py: what a version was must not change with the program.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def _text(name: str, *, required: bool = True) -> sa.Column[Any]:
    return sa.Column(name, sa.Text(), nullable=not required)


def _whole(name: str, *, required: bool = True) -> sa.Column[Any]:
    return sa.Column(name, sa.Integer(), nullable=not required)


def _big(name: str, *, required: bool = True) -> sa.Column[Any]:
    return sa.Column(name, sa.BigInteger(), nullable=not required)


def _points(table: str, column: str, target: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{target}.id"], name=f"fk_{table}_{column}")


def _unique(table: str, *columns: str) -> sa.UniqueConstraint:
    return sa.UniqueConstraint(*columns, name=f"uq_{table}_{'_'.join(columns)}")


def upgrade() -> None:
    """Add the tables."""
    _readings()
    _people()
    _what_was_sent()


def _readings() -> None:
    op.create_table(
        "loose_reading",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=True),
        *(_text(name) for name in ("trial_id", "cook", "probe")),
        _text("source", required=False),
        _big("time_ms"),
        _big("raw"),
        _whole("decimals"),
        _text("unit"),
        _whole("flags"),
        sa.PrimaryKeyConstraint("id", name="pk_loose_reading"),
        *(
            sa.ForeignKeyConstraint(
                ["trial_id", name],
                [f"{name}.trial_id", f"{name}.id"],
                name=f"fk_loose_reading_trial_id_{name}",
            )
            for name in ("cook", "source")
        ),
        _points("loose_reading", "probe", "probe"),
        sqlite_autoincrement=True,
    )
    place = ["trial_id", "cook", "probe", "time_ms"]
    op.create_index("ix_loose_reading_place", "loose_reading", place)


def _people() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        _text("name"),
        _text("role"),
        _text("taster", required=False),
        _text("pin", required=False),
        sa.Column("preferences", sa.JSON(), nullable=False),
        _big("made_at"),
        _big("left_at", required=False),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        _points("person", "taster", "taster"),
        _unique("person", "name"),
    )
    op.create_table(
        "session",
        _text("token_digest"),
        _whole("person"),
        *(_big(name) for name in ("made_at", "seen_at", "ends_at")),
        _text("what"),
        sa.PrimaryKeyConstraint("token_digest", name="pk_session"),
        _points("session", "person", "person"),
    )
    op.create_index("ix_session_person", "session", ["person"])
    op.create_table(
        "sign_in_link",
        _text("token_digest"),
        _whole("person"),
        *(_big(name) for name in ("made_at", "ends_at")),
        _big("used_at", required=False),
        sa.PrimaryKeyConstraint("token_digest", name="pk_sign_in_link"),
        _points("sign_in_link", "person", "person"),
    )
    op.create_index("ix_sign_in_link_person", "sign_in_link", ["person"])
    op.create_table(
        "device",
        sa.Column("id", sa.Integer(), nullable=False),
        _text("name"),
        _text("token_digest"),
        _whole("made_by"),
        _big("made_at"),
        *(_big(name, required=False) for name in ("seen_at", "ended_at")),
        sa.PrimaryKeyConstraint("id", name="pk_device"),
        _points("device", "made_by", "person"),
        _unique("device", "name"),
        _unique("device", "token_digest"),
    )


def _what_was_sent() -> None:
    op.create_table(
        "entry",
        sa.Column("number", sa.Integer(), nullable=False, autoincrement=True),
        *(_text(name) for name in ("id", "digest", "kind")),
        *(_whole(name, required=False) for name in ("person", "device")),
        _big("accepted_at"),
        *(_text(name, required=False) for name in ("trial_id", "record_kind", "record_id")),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_entry"),
        _points("entry", "person", "person"),
        _points("entry", "device", "device"),
        _unique("entry", "id"),
        sqlite_autoincrement=True,
    )
    made = ["trial_id", "record_kind", "record_id"]
    op.create_index("ix_entry_trial_id_record_kind_record_id", "entry", made)
    op.create_table(
        "attachment",
        sa.Column("id", sa.Integer(), nullable=False),
        *(_text(name) for name in ("trial_id", "event", "sha256", "media_type")),
        _whole("size"),
        _text("by"),
        _big("added_at"),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_attachment"),
        sa.ForeignKeyConstraint(
            ["trial_id", "event"],
            ["event.trial_id", "event.id"],
            name="fk_attachment_trial_id_event",
            deferrable=True,
            initially="DEFERRED",
        ),
        _unique("attachment", "trial_id", "event", "sha256"),
    )
