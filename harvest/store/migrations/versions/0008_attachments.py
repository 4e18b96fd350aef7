"""Photos and notes attached to records."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "attachments",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=False),
        sa.Column("tree_id", sa.Integer(), nullable=True),
        sa.Column("site_id", sa.Integer(), nullable=True),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("filename", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("attached_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint("bytes > 0", name=op.f("ck_attachments_bytes")),
        sa.CheckConstraint("length(sha256) = 64", name=op.f("ck_attachments_sha256")),
        sa.ForeignKeyConstraint(["tree_id"], ["trees.id"], name=op.f("fk_attachments_tree_id")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_attachments_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attachments")),
        sa.UniqueConstraint(
            "kind", "record_id", "sha256", name=op.f("uq_attachments_kind_record_id_sha256")
        ),
    )
    op.create_index("ix_attachments_tree_id", "attachments", ["tree_id"])
    op.create_table(
        "attached_files",
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_attached_files")),
    )
