"""The commands that look after the store."""

import sqlite3

import fakes
import pytest
from click.testing import CliRunner
from journals import AT

from advisor.cases.book import CaseBook, Write
from advisor.cli import main
from advisor.store.schema import newest
from advisor.store.store import Store


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Give a runner of commands on a store of its own."""
    monkeypatch.setenv("ADVISOR_STORE", str(tmp_path / "cases.sqlite"))
    return lambda *words, **more: CliRunner().invoke(main, words, **more)


@pytest.fixture
def case(tmp_path):
    """Give a case with words in it."""
    store = Store(str(tmp_path / "cases.sqlite"))
    book = CaseBook(store, fakes.engine(), lambda: AT)
    yield book.open({"circuit": "belt-reminder", "words": "Ms Unmistakable says"}, Write()).id
    store.close()


def test_a_store_is_made_checked_and_upgraded(run, tmp_path):
    """Both commands name the place and the revision."""
    for words in (("store", "upgrade"), ("store", "check")):
        done = run(*words)
        assert done.exit_code == 0, done.output
        assert f"{tmp_path}/cases.sqlite is at revision {newest()}" in done.output


def test_a_newer_store_is_exit_2(run, tmp_path):
    """A store of a newer release is told in one line."""
    assert run("store", "upgrade").exit_code == 0
    with sqlite3.connect(tmp_path / "cases.sqlite") as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    for command in ("check", "upgrade"):
        done = run("store", command)
        assert (done.exit_code, "newer release" in done.output, "Traceback" in done.output) == (2, True, False)


def test_there_and_back(run, tmp_path, case):
    """A backup is restored over the cases only with --replace; both places are named."""
    copy = str(tmp_path / "copy.sqlite")
    assert copy in run("backup", copy).output
    assert run("backup", copy).exit_code == 2
    assert "--replace" in run("restore", copy).output
    done = run("restore", copy, "--replace")
    assert done.exit_code == 0
    assert "before-restore-1" in done.output
    assert (tmp_path / "cases.sqlite.before-restore-1").is_file()


def test_erasing_asks_first(run, tmp_path, case):
    """Without a yes nothing is erased; with it, the words are gone and the case is there."""
    assert run("store", "erase", case, input="n\n").exit_code == 1
    assert b"Unmistakable" in b"".join(path.read_bytes() for path in tmp_path.glob("cases.sqlite*"))
    assert run("store", "erase", case, "--yes").exit_code == 0
    assert b"Unmistakable" not in b"".join(path.read_bytes() for path in tmp_path.glob("cases.sqlite*"))
    assert run("store", "erase", "nope", "--yes").exit_code == 2


def test_a_password_is_not_printed(run, monkeypatch, server):
    """The place of a server is named without its password."""
    monkeypatch.setenv("ADVISOR_STORE", server.database().replace("postgres@", "postgres:secret@"))
    done = run("store", "upgrade")
    assert (done.exit_code, "secret" in done.output) == (0, False)
    assert "pg_dump" in run("backup", "x").output
