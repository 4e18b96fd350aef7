"""What people add to their calendar may be for a kind of tree, and go by degree days."""

from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

COLUMNS = {
    "what": "TEXT",
    "degree_days": "FLOAT",
    "base_c": "FLOAT",
    "upper_c": "FLOAT",
    "count_from": "DATE",
    "count_event": "TEXT",
}


def upgrade() -> None:
    """Take the tables to this version."""
    for name, kind in COLUMNS.items():
        op.execute(f"ALTER TABLE calendar_marks ADD COLUMN {name} {kind}")
