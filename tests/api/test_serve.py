"""The serving command, short of serving."""

from datetime import UTC, datetime

import fakes
import pytest
from click.testing import CliRunner

from advisor.errors import UsageError
from advisor.store.store import Store
from advisor.store.tokens import Tokens, new_token
from api.serve import serve


@pytest.fixture
def cases(tmp_path, monkeypatch):
    """Give a store of its own to the command."""
    monkeypatch.setenv("ADVISOR_STORE", str(tmp_path / "cases.sqlite"))
    store = Store(str(tmp_path / "cases.sqlite"))
    yield store
    store.close()


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "shop.example", "127.0.0.2", ""])
def test_other_machines_need_tokens(cases, host):
    """An address that other machines reach is refused while no token is in force, with the reason and the way out."""
    with pytest.raises(UsageError) as refused:
        CliRunner().invoke(serve, ["--host", host], obj=fakes.engine(), catch_exceptions=False)
    assert "access tokens" in str(refused.value)
    assert "advisor token make" in str(refused.value)


def test_an_expired_token_lets_nobody_listen(cases):
    """Only a token in force opens the way to other machines."""
    token = new_token("shop", "anna", "manager", -1.0, datetime.now(UTC))
    cases.writing(lambda connection: Tokens(connection).add(token, "s"))
    with pytest.raises(UsageError, match="no token is in force"):
        CliRunner().invoke(serve, ["--tokens"], obj=fakes.engine(), catch_exceptions=False)


def test_a_proxy_is_an_address(cases):
    """A name is no address of a proxy: it could come to mean another machine."""
    with pytest.raises(UsageError, match="--proxy"):
        CliRunner().invoke(serve, ["--proxy", "front"], obj=fakes.engine(), catch_exceptions=False)


def test_a_taken_port_is_told(cases):
    """A port that another program holds is told in one line."""
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        result = CliRunner().invoke(serve, ["--port", str(taken.getsockname()[1])], obj=fakes.engine())
    assert result.exit_code == 1
    assert "try --port 0" in result.output
    assert "Traceback" not in result.output
