"""The mean wind speed of a day, measured and forecast."""

from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    for table in ("weather", "weather_ahead"):
        op.execute(f"ALTER TABLE {table} ADD COLUMN wind_kmh FLOAT")
