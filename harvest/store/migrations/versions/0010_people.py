"""People who may use the dashboard from other computers, and who is signed in."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Take the tables to this version."""
    op.create_table(
        "people",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("password", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint(
            "role IN ('look', 'log', 'change', 'accounts')", name=op.f("ck_people_role")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_people")),
        sa.UniqueConstraint("name_key", name=op.f("uq_people_name_key")),
    )
    op.create_table(
        "sign_ins",
        sa.Column("token", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_sign_ins_person_id")),
        sa.PrimaryKeyConstraint("token", name=op.f("pk_sign_ins")),
    )
    op.create_table(
        "wrong_passwords",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whom", sa.Text(), nullable=False),
        sa.Column("given_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wrong_passwords")),
    )
    op.create_index(
        op.f("ix_wrong_passwords_whom_given_at"), "wrong_passwords", ["whom", "given_at"]
    )
    op.create_table(
        "cookie_keys",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_cookie_keys")),
    )
