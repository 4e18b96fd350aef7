"""How often the orchard was written to, so that what was worked out from it can be kept."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    written = op.create_table(
        "written",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_written")),
    )
    op.bulk_insert(written, [{"id": 1, "times": 0}])
