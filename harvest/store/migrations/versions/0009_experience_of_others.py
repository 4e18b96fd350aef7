"""What other orchards' seasons say of a cultivar."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "experience",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("orchard", sa.Text(), nullable=False),
        sa.Column("species", sa.Text(), nullable=False),
        sa.Column("cultivar", sa.Text(), nullable=False),
        sa.Column("latitude", sa.Float(), nullable=True),
        sa.Column("seasons", sa.Integer(), nullable=False),
        sa.Column("trees", sa.Integer(), nullable=False),
        sa.Column("days_mean", sa.Float(), nullable=False),
        sa.Column("days_sd", sa.Float(), nullable=True),
        sa.Column("first_season", sa.Integer(), nullable=False),
        sa.Column("last_season", sa.Integer(), nullable=False),
        sa.Column("taken_on", sa.Date(), nullable=False),
        sa.CheckConstraint(
            "seasons > 0 AND trees > 0 AND days_mean > 0", name=op.f("ck_experience_counts")
        ),
        sa.CheckConstraint(
            "last_season >= first_season", name=op.f("ck_experience_seasons_in_order")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_experience")),
        sa.UniqueConstraint(
            "orchard",
            "species",
            "cultivar",
            name=op.f("uq_experience_orchard_species_cultivar"),
        ),
    )
