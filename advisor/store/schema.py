"""Which tables a store has: made where there are none, brought up on command, refused where newer."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from advisor.errors import SchemaError

NEWEST = "0004"
"""The revision of this release's tables."""
_FOLDER = Path(__file__).parent / "migrations"
_TABLE = "alembic_version"


def newest() -> str:
    """Name the revision of this release's tables."""
    return NEWEST


def revision(connection: Connection) -> str | None:
    """Name the revision of a store's tables; None where it has none."""
    if not inspect(connection).has_table(_TABLE):
        return None
    found: str | None = connection.execute(text(f"SELECT version_num FROM {_TABLE}")).scalar()
    return found


def is_empty(connection: Connection) -> bool:
    """Tell whether a database holds no table at all."""
    return not inspect(connection).get_table_names()


def check(connection: Connection) -> None:
    """Refuse tables of another release; raises SchemaError that says what to do."""
    found = revision(connection)
    if found == newest():
        return
    if found is None:
        what = "has no tables yet" if is_empty(connection) else "is a database of something else"
        raise SchemaError(f"the store {what}; a store is made ready by: advisor store upgrade")
    if is_known(found):
        raise SchemaError(
            f"the store is at revision {found}, this release needs {newest()}; run: advisor store upgrade"
        )
    raise SchemaError(f"the store is at revision {found}, which a newer release made; use that release or a backup")


def upgrade(connection: Connection) -> None:
    """Bring the tables to this release's, in the transaction of the connection; raises SchemaError if newer."""
    found = revision(connection)
    if found is None and not is_empty(connection):
        raise SchemaError("the database holds tables of something else; give the store one of its own")
    if found is not None and not is_known(found):
        check(connection)
    # Loaded here, since a store that is up to date needs neither Alembic nor the time to load it.
    from alembic import command  # noqa: PLC0415
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(_FOLDER).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def is_known(name: str) -> bool:
    """Tell whether this release has the steps from a revision to its own."""
    from alembic.script import ScriptDirectory  # noqa: PLC0415 - as above

    return any(step.revision == name for step in ScriptDirectory(str(_FOLDER)).walk_revisions())
