"""The plan of a trial: what is at hand and who shall get what."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the table of plans."""
    op.create_table(
        "plan",
        sa.Column("trial_id", sa.Text(), primary_key=True, nullable=False),
        sa.Column("id", sa.Text(), primary_key=True, nullable=False),
        sa.Column("at_hand", sa.JSON(), nullable=False),
        sa.Column("layout", sa.JSON(), nullable=True),
        sa.Column("leave_out", sa.JSON(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("first_revision", sa.Integer(), nullable=False),
        sa.Column("last_revision", sa.Integer(), nullable=False),
        sa.Column("struck", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("trial_id", "id", name="pk_plan"),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name="fk_plan_trial_id"),
        sa.ForeignKeyConstraint(["first_revision"], ["revision.id"], name="fk_plan_first_revision"),
        sa.ForeignKeyConstraint(["last_revision"], ["revision.id"], name="fk_plan_last_revision"),
    )
