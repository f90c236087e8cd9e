"""The tables of a store: made, brought up, refused."""

import threading
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from advisor.errors import SchemaError
from advisor.store import schema
from advisor.store.schema import newest
from advisor.store.store import Store
from advisor.store.tables import METADATA


def run(store, statement):
    """Run a statement on a store's database, past its checks."""
    with store._writer.begin() as connection:
        connection.execute(text(statement))


def test_migrations_make_the_tables_of_the_code(store):
    """What the steps make is what the code believes, table by table."""
    store.check()
    with store._engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []
        assert set(inspect(connection).get_table_names()) == {*METADATA.tables, "alembic_version"}
        for table in METADATA.tables.values():
            made = {index["name"]: index["column_names"] for index in inspect(connection).get_indexes(table.name)}
            assert made.items() >= {i.name: [c.name for c in i.columns] for i in table.indexes}.items()
            assert len(inspect(connection).get_foreign_keys(table.name)) == len(table.foreign_key_constraints)


def test_the_newest_step_is_the_one_that_is_named():
    """The revision in the code is the head of the steps."""
    assert ScriptDirectory(str(Path(schema.__file__).parent / "migrations")).get_current_head() == newest()


def test_a_store_from_before_tokens_is_brought_up(place):
    """A store of the first release keeps its cases and gets the newer tables; until then it is refused."""
    store = Store(place)
    store.upgrade()
    for statement in (
        "DROP TABLE activations",
        "DROP TABLE releases",
        "DROP TABLE imported_orders",
        "DROP TABLE imports",
        "DROP TABLE sessions",
        "DROP TABLE tokens",
        "UPDATE alembic_version SET version_num = '0001'",
        "INSERT INTO cases (id, shop, circuit, state, opened_at, changed_at, version) "
        "VALUES ('c', 's', 'b', 'open', '2026-01-01 00:00:00', '2026-01-01 00:00:00', 1)",
    ):
        run(store, statement)
    with pytest.raises(SchemaError, match="advisor store upgrade"):
        store.check()
    assert store.upgrade() == newest()
    assert store.read(lambda r: r.row("s", "c")).id == "c"
    store.close()


def test_an_empty_file_gets_its_tables_at_first_use(tmp_path):
    """Eight threads with stores of their own use a new file at once; one makes it, all can use it."""
    place, said, failed = str(tmp_path / "cases.sqlite"), [], []

    def use():
        store = Store(place)
        try:
            said.append(store.check())
        except Exception as error:
            failed.append(error)
        finally:
            store.close()

    threads = [threading.Thread(target=use) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (said, failed) == ([newest()] * 8, [])


def test_an_empty_postgresql_waits_for_the_command(server):
    """Tables in a shop's server are made on command alone."""
    store = Store(server.database())
    with pytest.raises(SchemaError, match="advisor store upgrade"):
        store.check()
    assert store.upgrade() == newest()
    assert store.check() == newest()
    store.close()


def test_a_newer_schema_is_refused(store, place):
    """A store that a newer release has upgraded is neither read nor upgraded."""
    store.check()
    run(store, "UPDATE alembic_version SET version_num = '9999'")
    other = Store(place)
    for act in (other.check, other.upgrade):
        with pytest.raises(SchemaError, match="newer release"):
            act()
    other.close()


def test_a_database_of_something_else_is_left_alone(server, tmp_path):
    """A database with other tables is refused and gets none of ours."""
    for place in (server.database(), str(tmp_path / "other.sqlite")):
        store = Store(place)
        if "://" not in place:
            (tmp_path / "other.sqlite").touch()
        run(store, "CREATE TABLE letters (a INTEGER)")
        with pytest.raises(SchemaError, match="something else"):
            store.check()
        with pytest.raises(SchemaError, match="something else"):
            store.upgrade()
        with store._engine.connect() as connection:
            assert inspect(connection).get_table_names() == ["letters"]
        store.close()


def test_an_upgrade_is_repeatable_and_keeps_cases(store):
    """Upgrading what is up to date changes nothing."""
    store.check()
    run(
        store,
        "INSERT INTO cases (id, shop, circuit, state, opened_at, changed_at, version) "
        "VALUES ('c', 's', 'b', 'open', '2026-01-01 00:00:00', '2026-01-01 00:00:00', 1)",
    )
    assert store.upgrade() == newest()
    assert store.read(lambda r: r.row("s", "c")).id == "c"
