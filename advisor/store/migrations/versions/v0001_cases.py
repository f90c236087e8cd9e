"""Cases, their events, what is personal in them, and idempotency keys."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_MOMENT = sa.DateTime(timezone=True)
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    _cases()
    _events()
    _keys()


def downgrade() -> None:
    """Drop the tables."""
    for table in ("idempotency_keys", "personal", "events", "cases"):
        op.drop_table(table)


def _cases() -> None:
    op.create_table(
        "cases",
        sa.Column("number", _NUMBER, autoincrement=True),
        sa.Column("id", sa.String(40), nullable=False),
        sa.Column("shop", sa.String(100), nullable=False),
        sa.Column("circuit", sa.String(200), nullable=False),
        sa.Column("reference", sa.String(200)),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("opened_at", _MOMENT, nullable=False),
        sa.Column("changed_at", _MOMENT, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_cases"),
        sa.UniqueConstraint("id", name="uq_cases_id"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_cases_shop_number", "cases", ["shop", "number"])
    op.create_index("ix_cases_shop_reference", "cases", ["shop", "reference"])


def _events() -> None:
    op.create_table(
        "events",
        sa.Column("case_id", sa.String(40), nullable=False),
        sa.Column("seq", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("v", sa.Integer, nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("body", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("case_id", "seq", name="pk_events"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_events_cases"),
    )
    op.create_table(
        "personal",
        sa.Column("case_id", sa.String(40), nullable=False),
        sa.Column("seq", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("body", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("case_id", "seq", name="pk_personal"),
        sa.ForeignKeyConstraint(["case_id", "seq"], ["events.case_id", "events.seq"], name="fk_personal_events"),
    )


def _keys() -> None:
    op.create_table(
        "idempotency_keys",
        sa.Column("shop", sa.String(100), nullable=False),
        sa.Column("token", sa.String(100), nullable=False),
        sa.Column("route", sa.String(300), nullable=False),
        sa.Column("key", sa.String(200), nullable=False),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("case_id", sa.String(40), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("shop", "token", "route", "key", name="pk_idempotency_keys"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_idempotency_keys_cases"),
    )
    op.create_index("ix_idempotency_keys_at", "idempotency_keys", ["at"])
