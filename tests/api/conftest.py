"""A client of the application over the hand-built engine, with cases in either database."""

from datetime import UTC, datetime

import fakes
import pytest
from databases import place, server, store

from advisor.store.store import Store
from advisor.store.tokens import Tokens, new_secret, new_token
from api.app import create_app
from api.settings import Settings

__all__ = ["place", "server", "store"]


@pytest.fixture
def client(tmp_path):
    """Give a client that never leaves the process, with cases in a file of its own."""
    cases = Store(str(tmp_path / "cases.sqlite"))
    yield create_app(fakes.engine(), cases).test_client()
    cases.close()


@pytest.fixture
def bench(store):
    """Give a client whose cases are in either database."""
    return create_app(fakes.engine(), store).test_client()


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
