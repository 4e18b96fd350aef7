"""History: batches and the changes they made; warnings that a person let stand."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "batches",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("undoes", sa.Integer(), nullable=True),
        sa.Column("undone_by", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["undoes"], ["batches.id"], name=op.f("fk_batches_undoes")),
        sa.ForeignKeyConstraint(["undone_by"], ["batches.id"], name=op.f("fk_batches_undone_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batches")),
    )
    op.create_table(
        "changes",
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("record_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("tree_id", sa.Integer(), nullable=True),
        sa.Column("before", sa.Text(), nullable=True),
        sa.Column("after", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_changes_batch_id")),
        sa.PrimaryKeyConstraint("kind", "record_id", "batch_id", name=op.f("pk_changes")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_changes_batch_id"), "changes", ["batch_id"])
    op.create_index(op.f("ix_changes_tree_id"), "changes", ["tree_id"])
    op.create_table(
        "dismissed",
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("dismissed_at", sa.DateTime(), nullable=True),
        sa.PrimaryKeyConstraint("rule", "facts", name=op.f("pk_dismissed")),
    )
