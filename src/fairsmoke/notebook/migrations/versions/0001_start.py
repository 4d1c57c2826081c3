"""The tables as they began.

Written out, not taken from tables.py: what a version was must not change with the program.
"""

from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_KITCHENS = frozenset({"cooker", "scale", "probe", "taster", "trial"})


def _text(name: str, *, required: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.Text(), nullable=not required)


def _whole(name: str, *, required: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.BigInteger(), nullable=not required)


def _number(name: str, *, required: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.Float(), nullable=not required)


def _yes_or_no(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Boolean(), nullable=True)


def _json(name: str, *, required: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.JSON(), nullable=not required)


def _key(of_trial: bool) -> list[sa.Column[Any]]:
    names = ["trial_id", "id"] if of_trial else ["id"]
    return [sa.Column(name, sa.Text(), primary_key=True, nullable=False) for name in names]


def _points(table: str, column: str, target: str, of_trial: bool) -> sa.ForeignKeyConstraint:
    both = of_trial and target not in _KITCHENS
    own, other = (["trial_id", column], ["trial_id", "id"]) if both else ([column], ["id"])
    return sa.ForeignKeyConstraint(
        own,
        [f"{target}.{name}" for name in other],
        name=f"fk_{table}_{'_'.join(own)}",
        deferrable=True,
        initially="DEFERRED",
    )


def _record(
    table: str,
    *columns: sa.Column[Any],
    of_trial: bool = True,
    points_at: Mapping[str, str] | None = None,
) -> None:
    """Create the table of one kind of record, with what every such table has."""
    targets = points_at or {}
    constraints: list[sa.Constraint] = [
        sa.PrimaryKeyConstraint(*(["trial_id"] if of_trial else []), "id", name=f"pk_{table}"),
        *(_points(table, column, target, of_trial) for column, target in targets.items()),
    ]
    if of_trial:
        constraints.append(
            sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name=f"fk_{table}_trial_id")
        )
    constraints += [
        sa.ForeignKeyConstraint([which], ["revision.id"], name=f"fk_{table}_{which}")
        for which in ("first_revision", "last_revision")
    ]
    op.create_table(
        table,
        *_key(of_trial),
        *columns,
        sa.Column("first_revision", sa.Integer(), nullable=False),
        sa.Column("last_revision", sa.Integer(), nullable=False),
        sa.Column("struck", sa.Boolean(), nullable=False),
        *constraints,
    )
    for column in targets:
        indexed = ["trial_id", column] if of_trial else [column]
        op.create_index(f"ix_{table}_{'_'.join(indexed)}", table, indexed)


def _links(kind: str, field: str, target: str) -> None:
    """Create the table of links for a field that holds several handles."""
    table = f"{kind}_{field}"
    op.create_table(
        table,
        _text("trial_id", required=True),
        _text("id", required=True),
        sa.Column("place", sa.Integer(), nullable=False),
        _text("handle", required=True),
        sa.PrimaryKeyConstraint("trial_id", "id", "place", name=f"pk_{table}"),
        sa.ForeignKeyConstraint(
            ["trial_id", "id"],
            [f"{kind}.trial_id", f"{kind}.id"],
            name=f"fk_{table}_trial_id_id",
            deferrable=True,
            initially="DEFERRED",
        ),
        _points(table, "handle", target, True),
    )
    op.create_index(f"ix_{table}_trial_id_handle", table, ["trial_id", "handle"])


def upgrade() -> None:
    """Create every table."""
    _revision()
    _of_the_kitchen()
    _of_cooks()
    _of_the_scales()
    _of_tasting()
    _of_judging()
    _of_readings()


def _revision() -> None:
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer(), nullable=False),
        _text("kind", required=True),
        _text("trial_id", required=True),
        _text("record_id", required=True),
        sa.Column("number", sa.Integer(), nullable=False),
        _whole("recorded_at", required=True),
        _text("by", required=True),
        _text("why", required=True),
        sa.Column("struck", sa.Boolean(), nullable=False),
        _json("body", required=True),
        sa.PrimaryKeyConstraint("id", name="pk_revision"),
        sa.UniqueConstraint(
            "kind",
            "trial_id",
            "record_id",
            "number",
            name="uq_revision_kind_trial_id_record_id_number",
        ),
    )
    op.create_index("ix_revision_trial_id", "revision", ["trial_id"])


def _of_the_kitchen() -> None:
    _record(
        "kitchen",
        _text("name", required=True),
        _text("time_zone"),
        _text("units"),
        _yes_or_no("invented"),
        _text("note"),
        of_trial=False,
    )
    _record(
        "cooker",
        _text("name", required=True),
        _text("fuel"),
        _json("positions", required=True),
        _text("note"),
        of_trial=False,
    )
    _record(
        "scale",
        _text("name", required=True),
        _number("resolution_kg", required=True),
        _number("repeatability_kg"),
        _number("max_error_kg"),
        _text("note"),
        of_trial=False,
    )
    _record(
        "probe",
        _text("name", required=True),
        _number("accuracy_k"),
        _number("offset_k"),
        _text("note"),
        of_trial=False,
    )
    _record("taster", _text("name", required=True), _text("note"), of_trial=False)
    _record(
        "known_layout",
        _text("name", required=True),
        _text("mapping", required=True),
        _whole("confirmed", required=True),
        _text("by"),
        of_trial=False,
    )
    _record(
        "trial",
        _text("title", required=True),
        _text("question", required=True),
        _yes_or_no("invented"),
        _text("differs", required=True),
        _json("protocol", required=True),
        _json("arms", required=True),
        _json("measures", required=True),
        _json("draw", required=True),
        _json("verdict"),
        _number("altitude_m"),
        _text("note"),
        of_trial=False,
    )


def _of_cooks() -> None:
    _record(
        "cook",
        _text("name", required=True),
        _text("time_zone", required=True),
        _whole("starts", required=True),
        _whole("ends"),
        _text("weather"),
        _text("note"),
    )
    _links("cook", "cookers", "cooker")
    _record(
        "piece",
        _text("name", required=True),
        _text("cut", required=True),
        _text("species", required=True),
        *(_text(name) for name in ("grade", "animal", "cook", "arm", "pair", "half_of", "side")),
        _text("spot_cooker"),
        _text("spot_position"),
        *(_number(f"{name}_m") for name in ("length", "width", "thick", "thin", "fat_cap")),
        _yes_or_no("injected"),
        _text("note"),
        points_at={"cook": "cook", "half_of": "piece", "spot_cooker": "cooker"},
    )
    _record(
        "placement",
        _text("cook", required=True),
        _text("probe", required=True),
        _whole("since", required=True),
        _whole("until"),
        _text("measures", required=True),
        _text("piece"),
        _text("where"),
        _number("depth_m"),
        _text("spot_cooker"),
        _text("spot_position"),
        points_at={"cook": "cook", "probe": "probe", "piece": "piece", "spot_cooker": "cooker"},
    )
    _record(
        "event",
        _text("cook", required=True),
        _whole("at", required=True),
        _text("kind", required=True),
        *(_text(name) for name in ("cooker", "probe", "to_cooker", "to_position")),
        _number("set_c"),
        _number("amount_kg"),
        _text("by"),
        _text("note"),
        points_at={"cook": "cook", "cooker": "cooker", "probe": "probe", "to_cooker": "cooker"},
    )
    _links("event", "pieces", "piece")


def _of_the_scales() -> None:
    _record(
        "weighing",
        _text("cook"),
        _text("piece"),
        _whole("at"),
        _text("scale", required=True),
        _number("reading_kg", required=True),
        _text("written"),
        _json("sum", required=True),
        _text("by"),
        _text("note"),
        points_at={"cook": "cook", "piece": "piece", "scale": "scale"},
    )
    _record(
        "estimate",
        _text("piece"),
        _text("part", required=True),
        _number("low_kg", required=True),
        _number("high_kg", required=True),
        _number("best_kg"),
        _text("shape"),
        _text("why", required=True),
        points_at={"piece": "piece"},
    )


def _of_tasting() -> None:
    _record(
        "sample",
        _text("piece", required=True),
        _whole("code"),
        _whole("at"),
        _text("note"),
        points_at={"piece": "piece"},
    )
    _record(
        "ballot",
        _text("taster", required=True),
        _text("cook", required=True),
        _text("measure", required=True),
        _whole("at"),
        _json("scores"),
        _text("chosen"),
        _text("comment"),
        points_at={"taster": "taster", "cook": "cook", "chosen": "sample"},
    )
    _links("ballot", "presented", "sample")


def _of_judging() -> None:
    _record(
        "figure",
        _text("piece", required=True),
        _text("measure", required=True),
        _number("value", required=True),
        _number("uncertainty"),
        _whole("at"),
        _text("note"),
        points_at={"piece": "piece"},
    )
    _record(
        "exclusion",
        _text("why", required=True),
        *(_text(name) for name in ("piece", "measure", "probe", "cook")),
        *(_whole(name) for name in ("since", "until", "decided")),
        _text("by"),
        points_at={"piece": "piece", "probe": "probe", "cook": "cook"},
    )
    _record(
        "registration",
        _whole("at", required=True),
        _text("plan", required=True),
        _text("digest", required=True),
        _json("amendments"),
    )


def _of_readings() -> None:
    _record(
        "source",
        _text("cook", required=True),
        _text("file_name", required=True),
        _text("sha256", required=True),
        _whole("taken_in", required=True),
        _text("layout", required=True),
        _text("mapping"),
        *(_whole(f"rows_{name}", required=True) for name in ("read", "good", "bad")),
        _whole("rows_blank"),
        *(_whole(f"readings_{name}") for name in ("new", "repeated", "conflicting")),
        _json("bad_rows"),
        points_at={"cook": "cook"},
    )
    op.create_table(
        "reading_block",
        sa.Column("id", sa.Integer(), nullable=False),
        *(_text(name, required=True) for name in ("trial_id", "cook", "probe")),
        _text("source"),
        sa.Column("number", sa.Integer(), nullable=False),
        _whole("start_ms", required=True),
        _whole("end_ms", required=True),
        sa.Column("n", sa.Integer(), nullable=False),
        _text("unit", required=True),
        sa.Column("decimals", sa.Integer(), nullable=False),
        _whole("checksum", required=True),
        sa.Column("payload", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_reading_block"),
        sa.ForeignKeyConstraint(
            ["trial_id", "cook"],
            ["cook.trial_id", "cook.id"],
            name="fk_reading_block_trial_id_cook",
        ),
        sa.ForeignKeyConstraint(
            ["trial_id", "source"],
            ["source.trial_id", "source.id"],
            name="fk_reading_block_trial_id_source",
        ),
        sa.ForeignKeyConstraint(["probe"], ["probe.id"], name="fk_reading_block_probe"),
        sa.UniqueConstraint(
            "trial_id",
            "cook",
            "probe",
            "source",
            "number",
            name="uq_reading_block_trial_id_cook_probe_source_number",
        ),
    )
    span = ["trial_id", "cook", "probe", "source", "start_ms", "end_ms", "n"]
    op.create_index("ix_reading_block_span", "reading_block", span)
    op.create_index("ix_reading_block_probe", "reading_block", ["probe"])
