"""How readings come in by themselves: channels, what waits for a name, batches, watched files.

Written out, not taken from beside.py: what a version was must not change with the program.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def _text(name: str, *, required: bool = True) -> sa.Column[Any]:
    return sa.Column(name, sa.Text(), nullable=not required)


def _whole(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Integer(), nullable=False)


def _big(name: str, *, required: bool = True) -> sa.Column[Any]:
    return sa.Column(name, sa.BigInteger(), nullable=not required)


def _yes_or_no(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Boolean(), nullable=False)


def _points(table: str, columns: list[str], target: str, others: list[str]) -> Any:
    return sa.ForeignKeyConstraint(
        columns,
        [f"{target}.{other}" for other in others],
        name=f"fk_{table}_{'_'.join(columns)}",
    )


def upgrade() -> None:
    """Add the tables."""
    _channels()
    _ways()


def _channels() -> None:
    op.create_table(
        "channel",
        _whole("id"),
        *(_text(name) for name in ("way", "whose", "name")),
        _text("probe", required=False),
        _yes_or_no("left_out"),
        _big("first_at"),
        sa.PrimaryKeyConstraint("id", name="pk_channel"),
        _points("channel", ["probe"], "probe", ["id"]),
        sa.UniqueConstraint("way", "whose", "name", name="uq_channel_way_whose_name"),
    )
    op.create_table(
        "stream",
        *(_text(name) for name in ("trial_id", "source")),
        _whole("channel"),
        *(_text(name) for name in ("cook", "probe")),
        _big("began_at"),
        _big("ended_at", required=False),
        _yes_or_no("whole"),
        sa.PrimaryKeyConstraint("trial_id", "source", name="pk_stream"),
        _points("stream", ["channel"], "channel", ["id"]),
        _points("stream", ["trial_id", "source"], "source", ["trial_id", "id"]),
    )
    op.create_index("ix_stream_channel", "stream", ["channel"])
    said = ["channel", "time_ms", "raw", "decimals", "unit"]
    op.create_table(
        "waiting_reading",
        sa.Column("id", sa.Integer(), nullable=False, autoincrement=True),
        _whole("channel"),
        *(_big(name) for name in ("time_ms", "raw")),
        _whole("decimals"),
        *(_text(name) for name in ("unit", "hold")),
        _big("received_at"),
        sa.PrimaryKeyConstraint("id", name="pk_waiting_reading"),
        _points("waiting_reading", ["channel"], "channel", ["id"]),
        sa.UniqueConstraint(*said, name=f"uq_waiting_reading_{'_'.join(said)}"),
        sqlite_autoincrement=True,
    )


def _ways() -> None:
    op.create_table(
        "batch",
        *(_text(name) for name in ("sender", "id", "digest")),
        _big("accepted_at"),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("sender", "id", name="pk_batch"),
    )
    op.create_index("ix_batch_accepted_at", "batch", ["accepted_at"])
    op.create_table(
        "watch",
        _whole("id"),
        *(_text(name) for name in ("path", "trial_id", "cook")),
        sa.Column("answer", sa.JSON(), nullable=False),
        _text("made_by"),
        _big("made_at"),
        _big("ended_at", required=False),
        sa.PrimaryKeyConstraint("id", name="pk_watch"),
        _points("watch", ["trial_id", "cook"], "cook", ["trial_id", "id"]),
    )
