"""Repair orders of the shops' own records, and the imports that they came in."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

_MOMENT = sa.DateTime(timezone=True)
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "imports",
        sa.Column("number", _NUMBER, autoincrement=True),
        sa.Column("shop", sa.String(100), nullable=False),
        sa.Column("token", sa.String(100), nullable=False),
        sa.Column("key", sa.String(200)),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.Column("answer", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_imports"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_imports_key", "imports", ["shop", "token", "key"], unique=True)
    op.create_table(
        "imported_orders",
        sa.Column("number", _NUMBER, autoincrement=True),
        sa.Column("import_number", _NUMBER, nullable=False),
        sa.Column("shop", sa.String(100), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("circuit", sa.String(200), nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.Column("cells", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_imported_orders"),
        sa.ForeignKeyConstraint(["import_number"], ["imports.number"], name="fk_imported_orders_imports"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_imported_orders_digest", "imported_orders", ["shop", "digest"], unique=True)


def downgrade() -> None:
    """Drop the tables."""
    for table in ("imported_orders", "imports"):
        op.drop_table(table)
