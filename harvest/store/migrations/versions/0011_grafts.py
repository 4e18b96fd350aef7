"""Trees grafted over to another cultivar."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "grafts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tree_id", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("cultivar", sa.Text(), nullable=False),
        sa.Column("species", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["tree_id"], ["trees.id"], name=op.f("fk_grafts_tree_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_grafts")),
        sa.UniqueConstraint("tree_id", "date", name=op.f("uq_grafts_tree_id_date")),
    )
