"""Releases of priors, and which of them were put in force."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

_MOMENT = sa.DateTime(timezone=True)
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "releases",
        sa.Column("id", sa.String(80), nullable=False),
        sa.Column("shop", sa.String(100), nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("content", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("id", "shop", name="pk_releases"),
    )
    op.create_table(
        "activations",
        sa.Column("number", _NUMBER, autoincrement=True),
        sa.Column("shop", sa.String(100), nullable=False),
        sa.Column("release_id", sa.String(80)),
        sa.Column("back", sa.Boolean(create_constraint=False), nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_activations"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_activations_shop", "activations", ["shop", "number"])


def downgrade() -> None:
    """Drop the tables."""
    for table in ("activations", "releases"):
        op.drop_table(table)
