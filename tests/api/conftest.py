"""A client of the application over the hand-built engine, with cases in either database."""

import fakes
import pytest
from databases import place, server, store

from advisor.store.store import Store
from api.app import create_app

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
