"""Weather by source: whose it is, how far it is trusted, what was confirmed, what was forecast."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "weather_sources",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("attribution", sa.Text(), nullable=True),
        sa.Column("licence", sa.Text(), nullable=True),
        sa.Column("fetched_at", sa.DateTime(), nullable=True),
        sa.Column("trust", sa.Integer(), nullable=True),
        sa.Column("layout", sa.Text(), nullable=True),
        sa.CheckConstraint(
            "kind IN ('logger', 'file', 'archive', 'stations', 'model')",
            name=op.f("ck_weather_sources_kind"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weather_sources_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_sources")),
        sa.UniqueConstraint("site_id", "source", name=op.f("uq_weather_sources_site_id_source")),
    )
    op.execute(
        "INSERT INTO weather_sources (site_id, source, kind) "
        "SELECT DISTINCT site_id, source, 'file' FROM weather"
    )
    op.create_table(
        "weather_stations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=True),
        sa.Column("distance_km", sa.Float(), nullable=True),
        sa.Column("elevation_m", sa.Float(), nullable=True),
        sa.Column("first_day", sa.Date(), nullable=True),
        sa.Column("last_day", sa.Date(), nullable=True),
        sa.Column("days", sa.Integer(), nullable=True),
        sa.Column("share", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["source_id"], ["weather_sources.id"], name=op.f("fk_weather_stations_source_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_stations")),
        sa.UniqueConstraint(
            "source_id", "station", name=op.f("uq_weather_stations_source_id_station")
        ),
    )
    op.create_table(
        "weather_ahead",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("issued", sa.Date(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("tmin_c", sa.Float(), nullable=True),
        sa.Column("tmax_c", sa.Float(), nullable=True),
        sa.Column("precip_mm", sa.Float(), nullable=True),
        sa.CheckConstraint("date >= issued", name=op.f("ck_weather_ahead_not_before_issued")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weather_ahead_site_id")),
        sa.ForeignKeyConstraint(
            ["site_id", "source"],
            ["weather_sources.site_id", "weather_sources.source"],
            name=op.f("fk_weather_ahead_site_id_source"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather_ahead")),
        sa.UniqueConstraint(
            "site_id",
            "source",
            "issued",
            "date",
            name=op.f("uq_weather_ahead_site_id_source_issued_date"),
        ),
    )
    with op.batch_alter_table("weather", copy_from=_weather_of_0001()) as batch:
        for name in ("precip_mm", "tmax_c", "tmin_below_tmax", "tmin_c"):
            batch.drop_constraint(op.f(f"ck_weather_{name}"), type_="check")
        batch.add_column(
            sa.Column("confirmed", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        batch.create_foreign_key(
            op.f("fk_weather_site_id_source"),
            "weather_sources",
            ["site_id", "source"],
            ["site_id", "source"],
        )


def _weather_of_0001() -> sa.Table:
    """The table as version 0001 made it; SQLite does not say which checks a table has."""
    return sa.Table(
        "weather",
        sa.MetaData(),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("tmin_c", sa.Float(), nullable=True),
        sa.Column("tmax_c", sa.Float(), nullable=True),
        sa.Column("precip_mm", sa.Float(), nullable=True),
        sa.CheckConstraint(
            "precip_mm >= 0 AND precip_mm <= 2000", name=op.f("ck_weather_precip_mm")
        ),
        sa.CheckConstraint("tmax_c >= -90 AND tmax_c <= 60", name=op.f("ck_weather_tmax_c")),
        sa.CheckConstraint("tmin_c <= tmax_c", name=op.f("ck_weather_tmin_below_tmax")),
        sa.CheckConstraint("tmin_c >= -90 AND tmin_c <= 60", name=op.f("ck_weather_tmin_c")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_weather_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weather")),
        sa.UniqueConstraint(
            "site_id", "source", "date", name=op.f("uq_weather_site_id_source_date")
        ),
    )
