"""Whether a ballot was given blind and by who cooked; the unit that a scale or a probe shows."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Add the columns; what was recorded before leaves them open."""
    with op.batch_alter_table("ballot", recreate="always") as table:
        table.add_column(sa.Column("blind", sa.Boolean(), nullable=True), insert_after="chosen")
        table.add_column(sa.Column("cooked", sa.Boolean(), nullable=True), insert_after="blind")
    for name, last in (("scale", "max_error_kg"), ("probe", "offset_k")):
        with op.batch_alter_table(name, recreate="always") as table:
            table.add_column(sa.Column("unit", sa.Text(), nullable=True), insert_after=last)
