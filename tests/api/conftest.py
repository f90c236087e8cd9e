"""A client of the application over the hand-built engine, with cases in either database."""

import shutil
from datetime import UTC, datetime

import fakes
import pytest
from databases import place, server, store

from advisor.store.store import Store
from advisor.store.tokens import Tokens, new_secret, new_token
from api.app import create_app
from api.settings import Settings

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
    yield create_app(fakes.engine(), cases, Settings(rate=0.0)).test_client()
    cases.close()


@pytest.fixture
def client(tmp_path, no_cases):
    """Give a client that never leaves the process, with cases in a file of its own."""
    path = shutil.copy(no_cases, tmp_path / "cases.sqlite")
    cases = Store(str(path))
    yield create_app(fakes.engine(), cases, Settings(rate=0.0)).test_client()
    cases.close()


@pytest.fixture
def bench(store):
    """Give a client whose cases are in either database."""
    return create_app(fakes.engine(), store, Settings(rate=0.0)).test_client()


@pytest.fixture
def token(store):
    """Give what makes a token in the store and gives its secret."""

    def make(role="technician", shop="north", name="anna", days=1.0):
        """Add a token."""
        made, secret = new_token(shop, name, role, days, datetime.now(UTC)), new_secret()
        store.writing(lambda connection: Tokens(connection).add(made, secret))
        return secret

    return make


@pytest.fixture
def guarded(store):
    """Give a client of an application that asks for tokens."""
    return create_app(fakes.engine(), store, Settings(tokens=True)).test_client()


@pytest.fixture
def bearer(token):
    """Give what makes the header of a new token."""
    return lambda *args, **more: {"Authorization": f"Bearer {token(*args, **more)}"}
