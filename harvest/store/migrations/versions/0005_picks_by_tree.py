"""Picks are found by their tree without reading all of them."""

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_index(op.f("ix_picks_tree_id_date"), "picks", ["tree_id", "date"])
