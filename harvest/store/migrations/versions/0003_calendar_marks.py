"""Whom a spray reached besides, when people may go in again; marks on the calendar's items."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.add_column("sprays", sa.Column("also_reached", sa.Text(), nullable=True))
    op.add_column("sprays", sa.Column("re_entry", sa.Text(), nullable=True))
    op.create_table(
        "calendar_marks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.Text(), nullable=False),
        sa.Column("target", sa.Text(), nullable=False),
        sa.Column("marked_on", sa.Date(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=True),
        sa.Column("title", sa.Text(), nullable=True),
        sa.Column("first_day", sa.Date(), nullable=True),
        sa.Column("last_day", sa.Date(), nullable=True),
        sa.Column("why", sa.Text(), nullable=True),
        sa.CheckConstraint(
            "mark IN ('done', 'moved', 'off', 'added')", name=op.f("ck_calendar_marks_mark")
        ),
        sa.CheckConstraint("last_day >= first_day", name=op.f("ck_calendar_marks_days_in_order")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_calendar_marks_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_marks")),
        sa.UniqueConstraint("mark", "target", name=op.f("uq_calendar_marks_mark_target")),
    )
