"""Tokens of the shops' people and programs, and the sessions that pages are used in."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "tokens",
        sa.Column("id", sa.String(40), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("shop", sa.String(100), nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("made_at", _MOMENT, nullable=False),
        sa.Column("expires_at", _MOMENT, nullable=False),
        sa.Column("revoked_at", _MOMENT),
        sa.PrimaryKeyConstraint("id", name="pk_tokens"),
        sa.UniqueConstraint("hash", name="uq_tokens_hash"),
    )
    op.create_table(
        "sessions",
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("token_id", sa.String(40), nullable=False),
        sa.Column("expires_at", _MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("hash", name="pk_sessions"),
        sa.ForeignKeyConstraint(["token_id"], ["tokens.id"], name="fk_sessions_tokens"),
    )
    op.create_index("ix_sessions_expires_at", "sessions", ["expires_at"])


def downgrade() -> None:
    """Drop the tables."""
    for table in ("sessions", "tokens"):
        op.drop_table(table)
