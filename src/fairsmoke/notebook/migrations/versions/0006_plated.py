"""Whether who plated the samples of a cook knew which was which."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Add the column; earlier cooks leave it open."""
    with op.batch_alter_table("cook", recreate="always") as table:
        table.add_column(sa.Column("plated", sa.Text(), nullable=True), insert_after="ends")
