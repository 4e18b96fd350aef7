"""How a site's gaps are filled, and temperatures measured every hour."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "weather_gaps",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("rules", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weather_gaps_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_gaps")),
        sa.UniqueConstraint("site_id", name=op.f("uq_weather_gaps_site_id")),
    )
    op.create_table(
        "weather_hours",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        *(sa.Column(f"h{hour:02d}_c", sa.Float(), nullable=True) for hour in range(24)),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weather_hours_site_id")),
        sa.ForeignKeyConstraint(
            ["site_id", "source"],
            ["weather_sources.site_id", "weather_sources.source"],
            name=op.f("fk_weather_hours_site_id_source"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_hours")),
        sa.UniqueConstraint(
            "site_id", "source", "date", name=op.f("uq_weather_hours_site_id_source_date")
        ),
    )
