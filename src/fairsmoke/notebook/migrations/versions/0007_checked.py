"""What of a doubted weighing, event or placement somebody confirmed, who and when."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Add the columns; nothing recorded before was confirmed."""
    for name, last in (("placement", "spot_position"), ("event", "note"), ("weighing", "note")):
        with op.batch_alter_table(name, recreate="always") as table:
            table.add_column(sa.Column("checked", sa.Text(), nullable=True), insert_after=last)
            table.add_column(
                sa.Column("checked_by", sa.Text(), nullable=True), insert_after="checked"
            )
            table.add_column(
                sa.Column("checked_at", sa.BigInteger(), nullable=True), insert_after="checked_by"
            )
