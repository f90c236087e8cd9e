"""The tables of the store as this release uses them; the migrations make them, and a test holds the two together."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    DateTime,
    Dialect,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    String,
    Table,
)
from sqlalchemy.types import TypeDecorator

METADATA = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(referred_table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
    }
)


class Utc(TypeDecorator[datetime]):
    """A moment in UTC: aware outside, also where the database keeps no time zone."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the moment as the database takes it; raises ValueError for a moment without its zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment without time zone")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the moment with its zone, whatever the database keeps."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


NUMBER = BigInteger().with_variant(Integer(), "sqlite")

CASES = Table(
    "cases",
    METADATA,
    Column("number", NUMBER, primary_key=True, autoincrement=True),
    Column("id", String(40), nullable=False, unique=True),
    Column("shop", String(100), nullable=False),
    Column("circuit", String(200), nullable=False),
    Column("reference", String(200)),
    Column("state", String(10), nullable=False),
    Column("opened_at", Utc(), nullable=False),
    Column("changed_at", Utc(), nullable=False),
    Column("version", Integer, nullable=False),
    Index("ix_cases_shop_number", "shop", "number"),
    Index("ix_cases_shop_reference", "shop", "reference"),
    sqlite_autoincrement=True,
)

EVENTS = Table(
    "events",
    METADATA,
    Column("case_id", String(40), ForeignKey("cases.id"), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("v", Integer, nullable=False),
    Column("at", Utc(), nullable=False),
    Column("by", String(200), nullable=False),
    Column("kind", String(40), nullable=False),
    Column("body", JSON, nullable=False),
)

# What may name a person stands here alone: erasing it leaves the journal whole.
PERSONAL = Table(
    "personal",
    METADATA,
    Column("case_id", String(40), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("body", JSON, nullable=False),
    ForeignKeyConstraint(["case_id", "seq"], ["events.case_id", "events.seq"]),
)

KEYS = Table(
    "idempotency_keys",
    METADATA,
    Column("shop", String(100), primary_key=True),
    Column("token", String(100), primary_key=True),
    Column("route", String(300), primary_key=True),
    Column("key", String(200), primary_key=True),
    Column("fingerprint", String(64), nullable=False),
    Column("case_id", String(40), ForeignKey("cases.id"), nullable=False),
    Column("version", Integer, nullable=False),
    Column("at", Utc(), nullable=False),
    Index("ix_idempotency_keys_at", "at"),
)

# Of a token only its SHA-256 is kept: whoever reads the store cannot use what stands here.
TOKENS = Table(
    "tokens",
    METADATA,
    Column("id", String(40), primary_key=True),
    Column("hash", String(64), nullable=False, unique=True),
    Column("shop", String(100), nullable=False),
    Column("name", String(60), nullable=False),
    Column("role", String(20), nullable=False),
    Column("made_at", Utc(), nullable=False),
    Column("expires_at", Utc(), nullable=False),
    Column("revoked_at", Utc()),
)

SESSIONS = Table(
    "sessions",
    METADATA,
    Column("hash", String(64), primary_key=True),
    Column("token_id", String(40), ForeignKey("tokens.id"), nullable=False),
    Column("expires_at", Utc(), nullable=False),
    Index("ix_sessions_expires_at", "expires_at"),
)

IMPORTS = Table(
    "imports",
    METADATA,
    Column("number", NUMBER, primary_key=True, autoincrement=True),
    Column("shop", String(100), nullable=False),
    Column("token", String(100), nullable=False),
    Column("key", String(200)),
    Column("fingerprint", String(64), nullable=False),
    Column("at", Utc(), nullable=False),
    Column("answer", JSON, nullable=False),
    Index("ix_imports_key", "shop", "token", "key", unique=True),
    sqlite_autoincrement=True,
)

ORDERS = Table(
    "imported_orders",
    METADATA,
    Column("number", NUMBER, primary_key=True, autoincrement=True),
    Column("import_number", NUMBER, ForeignKey("imports.number"), nullable=False),
    Column("shop", String(100), nullable=False),
    Column("digest", String(64), nullable=False),
    Column("circuit", String(200), nullable=False),
    Column("at", Utc(), nullable=False),
    Column("cells", JSON, nullable=False),
    Index("ix_imported_orders_digest", "shop", "digest", unique=True),
    sqlite_autoincrement=True,
)

# A release of priors is its content: the id is the hash of it, and nothing changes it. Two shops may hold the same.
RELEASES = Table(
    "releases",
    METADATA,
    Column("id", String(80), primary_key=True),
    Column("shop", String(100), primary_key=True),
    Column("name", String(60), nullable=False),
    Column("at", Utc(), nullable=False),
    Column("by", String(200), nullable=False),
    Column("content", JSON, nullable=False),
)

# What is in force is the replay of these; the empty shop stands for all shops.
ACTIVATIONS = Table(
    "activations",
    METADATA,
    Column("number", NUMBER, primary_key=True, autoincrement=True),
    Column("shop", String(100), nullable=False),
    Column("release_id", String(80)),
    Column("back", Boolean(create_constraint=False), nullable=False),
    Column("at", Utc(), nullable=False),
    Column("by", String(200), nullable=False),
    Index("ix_activations_shop", "shop", "number"),
    sqlite_autoincrement=True,
)
