"""The tables of a notebook: one for each kind of record, and those for what is never changed.

Every record's row is its present state; ``revision`` has each state that it ever had. A row says
which revision it is (``last_revision``), which was its first (``first_revision``, the order in
which things were recorded) and whether the record was struck out.
"""

from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)

from fairsmoke.notebook.kinds import KINDS, Kind
from fairsmoke.notebook.mapper import FieldMap, Moment, fields_of

METADATA = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)

REVISION = Table(
    "revision",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    # "" for what belongs to the kitchen: a missing value would never be equal to another.
    Column("trial_id", Text, nullable=False),
    Column("record_id", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("recorded_at", Moment, nullable=False),
    Column("by", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("struck", Boolean, nullable=False),
    # Of this row and all before it (`chain`).
    Column("seal", Text, nullable=False),
    Column("body", JSON, nullable=False),
    UniqueConstraint("kind", "trial_id", "record_id", "number"),
    Index(None, "trial_id"),
)

READING_BLOCK = Table(
    "reading_block",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("trial_id", Text, nullable=False),
    Column("cook", Text, nullable=False),
    Column("probe", Text, nullable=False),
    # No source: readings that came from no file (written by hand, sent by a device).
    Column("source", Text),
    Column("number", Integer, nullable=False),
    Column("start_ms", BigInteger, nullable=False),
    Column("end_ms", BigInteger, nullable=False),
    Column("n", Integer, nullable=False),
    Column("unit", Text, nullable=False),
    Column("decimals", Integer, nullable=False),
    Column("checksum", BigInteger, nullable=False),
    # Last, so that what is before it is read without reading it.
    Column("payload", LargeBinary, nullable=False),
    ForeignKeyConstraint(["trial_id", "cook"], ["cook.trial_id", "cook.id"]),
    ForeignKeyConstraint(["trial_id", "source"], ["source.trial_id", "source.id"]),
    ForeignKeyConstraint(["probe"], ["probe.id"]),
    UniqueConstraint("trial_id", "cook", "probe", "source", "number"),
    # All that a list of what was read from when to when needs, without touching a payload.
    Index(
        "ix_reading_block_span", "trial_id", "cook", "probe", "source", "start_ms", "end_ms", "n"
    ),
    Index(None, "probe"),
)


LOOSE_READING = Table(
    "loose_reading",
    METADATA,
    # Never used again after a row was folded away, so that "in order of arrival" stays true.
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("trial_id", Text, nullable=False),
    Column("cook", Text, nullable=False),
    Column("probe", Text, nullable=False),
    Column("source", Text),
    Column("time_ms", BigInteger, nullable=False),
    Column("raw", BigInteger, nullable=False),
    Column("decimals", Integer, nullable=False),
    Column("unit", Text, nullable=False),
    Column("flags", Integer, nullable=False),
    ForeignKeyConstraint(["trial_id", "cook"], ["cook.trial_id", "cook.id"]),
    ForeignKeyConstraint(["trial_id", "source"], ["source.trial_id", "source.id"]),
    ForeignKeyConstraint(["probe"], ["probe.id"]),
    Index("ix_loose_reading_place", "trial_id", "cook", "probe", "time_ms"),
    sqlite_autoincrement=True,
)
"""Readings that arrived one by one, until enough of them are packed into a block."""


def link_table_name(kind: Kind, field: FieldMap) -> str:
    """Return the name of the table of links for a field that holds several handles."""
    return f"{kind.name}_{field.name}"


def _owner_columns(kind: Kind) -> list[Column[Any]]:
    if not kind.of_trial:
        return [Column("id", Text, primary_key=True)] if kind.only_one else []
    trial_id: Column[Any] = Column("trial_id", Text, ForeignKey("trial.id"), primary_key=True)
    return [trial_id, Column("id", Text, primary_key=True)] if kind.only_one else [trial_id]


def _foreign_key(kind: Kind, column: str, target: str) -> ForeignKeyConstraint:
    # Deferred to the end of the transaction, so that records may be saved in any order.
    both_of_trial = kind.of_trial and KINDS[target].of_trial
    own, other = (["trial_id", column], ["trial_id", "id"]) if both_of_trial else ([column], ["id"])
    return ForeignKeyConstraint(
        own,
        [f"{target}.{name}" for name in other],
        deferrable=True,
        initially="DEFERRED",
    )


def _record_table(kind: Kind) -> Table:
    columns = _owner_columns(kind)
    constraints: list[ForeignKeyConstraint | Index] = []
    for field in fields_of(kind):
        columns += field.columns()
        if field.target is not None and field.form != "links":
            column = field.column_names[0]
            constraints.append(_foreign_key(kind, column, field.target))
            constraints.append(Index(None, *(["trial_id"] if kind.of_trial else []), column))
    columns += [
        Column("first_revision", Integer, ForeignKey("revision.id"), nullable=False),
        Column("last_revision", Integer, ForeignKey("revision.id"), nullable=False),
        Column("struck", Boolean, nullable=False),
    ]
    return Table(kind.name, METADATA, *columns, *constraints)


def _link_table(kind: Kind, field: FieldMap) -> Table:
    assert kind.of_trial
    assert field.target is not None
    return Table(
        link_table_name(kind, field),
        METADATA,
        Column("trial_id", Text, nullable=False),
        Column("id", Text, nullable=False),
        Column("place", Integer, nullable=False),
        Column("handle", Text, nullable=False),
        PrimaryKeyConstraint("trial_id", "id", "place"),
        ForeignKeyConstraint(
            ["trial_id", "id"],
            [f"{kind.name}.trial_id", f"{kind.name}.id"],
            deferrable=True,
            initially="DEFERRED",
        ),
        _foreign_key(kind, "handle", field.target),
        Index(None, "trial_id", "handle"),
    )


TABLES = {kind.name: _record_table(kind) for kind in KINDS.values()}
"""The table of each kind of record."""

LINKS = {
    kind.name: {
        field.name: _link_table(kind, field) for field in fields_of(kind) if field.form == "links"
    }
    for kind in KINDS.values()
}
"""The tables of links of each kind, by the field that they hold."""
