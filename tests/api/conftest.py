"""A client of the application over the hand-built engine, with cases in either database."""

import shutil

import fakes
import pytest
from databases import place, server, store

from advisor.store.store import Store
from api.app import create_app

__all__ = ["place", "server", "store"]


@pytest.fixture(scope="session")
def no_cases(tmp_path_factory):
    """Give a file with the tables of cases and none in them: to copy is quicker than to make."""
    path = tmp_path_factory.mktemp("none") / "cases.sqlite"
    empty = Store(str(path))
    empty.prepare()
    empty.close()
    return path


@pytest.fixture(scope="module")
def shared_client(tmp_path_factory, no_cases):
    """Give a client for the tests of a module, each of which opens cases of its own."""
    cases = Store(str(shutil.copy(no_cases, tmp_path_factory.mktemp("shared") / "cases.sqlite")))
    yield create_app(fakes.engine(), cases).test_client()
    cases.close()


@pytest.fixture
def client(tmp_path, no_cases):
    """Give a client that never leaves the process, with cases in a file of its own."""
    path = shutil.copy(no_cases, tmp_path / "cases.sqlite")
    cases = Store(str(path))
    yield create_app(fakes.engine(), cases).test_client()
    cases.close()


@pytest.fixture
def bench(store):
    """Give a client whose cases are in either database."""
    return create_app(fakes.engine(), store).test_client()
