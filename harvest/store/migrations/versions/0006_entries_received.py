"""The ids of entries sent by a page, so that one sent twice arrives once."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "received",
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("received_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_received_batch_id")),
        sa.PrimaryKeyConstraint("entry", name=op.f("pk_received")),
    )
