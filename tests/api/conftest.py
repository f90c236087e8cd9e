"""A client of the application over the hand-built engine."""

import fakes
import pytest

from api.app import create_app


@pytest.fixture
def client():
    """Give a client that never leaves the process."""
    return create_app(fakes.engine()).test_client()
