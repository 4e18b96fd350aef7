"""Changes of weather kept packed; settings and dismissed warnings get ids for their history."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "packed_changes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("last_id", sa.Integer(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batches.id"], name=op.f("fk_packed_changes_batch_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_packed_changes")),
    )
    op.create_index(op.f("ix_packed_changes_batch_id"), "packed_changes", ["batch_id"])
    _with_ids(
        "settings",
        ["name"],
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
    )
    _with_ids(
        "dismissed",
        ["rule", "facts"],
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("dismissed_at", sa.DateTime(), nullable=True),
    )


def _with_ids(name: str, key: list[str], *columns: sa.Column[Any]) -> None:
    """Make a small table anew, with an id a row; what was its primary key stays unique."""
    connection = op.get_bind()
    old = sa.table(name, *(sa.column(column.name, column.type) for column in columns))
    rows = [dict(row) for row in connection.execute(sa.select(old).order_by(*key)).mappings()]
    op.drop_table(name)
    made = op.create_table(
        name,
        sa.Column("id", sa.Integer(), nullable=False),
        *columns,
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
        sa.UniqueConstraint(*key, name=op.f(f"uq_{name}_{'_'.join(key)}")),
    )
    if rows:
        op.bulk_insert(made, rows)
