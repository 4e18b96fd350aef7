"""How far a site's rows, and the places in them, stand apart."""

from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    for name in ("row_spacing_m", "tree_spacing_m"):
        # A table others point to is not rebuilt for a column; both databases take it so.
        op.execute(
            f"ALTER TABLE sites ADD COLUMN {name} FLOAT CONSTRAINT ck_sites_{name} "
            f"CHECK ({name} >= 0.1 AND {name} <= 100)"
        )
