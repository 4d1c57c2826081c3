"""A seal on every revision: a hash chain over the history."""

import json

import sqlalchemy as sa
from alembic import op

from fairsmoke.notebook.chain import START, link

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add the column and seal what was recorded before, in its order."""
    with op.batch_alter_table("revision", recreate="always") as table:
        table.add_column(
            sa.Column("seal", sa.Text(), nullable=False, server_default=""), insert_after="struck"
        )
    connection = op.get_bind()
    before = START
    rows = connection.execute(sa.text("SELECT * FROM revision ORDER BY id")).mappings().all()
    for row in rows:
        plain = {**row, "body": json.loads(row["body"])}
        before = link(before, plain, row["recorded_at"])
        connection.execute(
            sa.text("UPDATE revision SET seal = :seal WHERE id = :id"),
            {"seal": before, "id": row["id"]},
        )
    with op.batch_alter_table("revision", recreate="always") as table:
        table.alter_column("seal", server_default=None)
