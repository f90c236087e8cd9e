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


def test_it_serves_and_prints_its_address(tmp_path):
    """The command prints an address, and pages and answers are there."""
    import os
    import re
    import subprocess
    import sys
    from pathlib import Path
    from urllib.request import urlopen

    root = Path(__file__).parents[2]
    code = (
        f"import sys; sys.path[:0] = [{str(root)!r}, {str(root / 'tests')!r}]; "
        "import fakes; from api.serve import serve; "
        "serve(['--port', '0'], obj=fakes.engine())"
    )
    with subprocess.Popen(
        [sys.executable, "-u", "-c", code],
        stdout=subprocess.PIPE,
        text=True,
        cwd=tmp_path,
        env={**os.environ, "ADVISOR_STORE": str(tmp_path / "cases.sqlite")},
    ) as process:
        try:
            address = re.search(r"http://127\.0\.0\.1:\d+/", process.stdout.readline())[0]
            with urlopen(address) as page, urlopen(f"{address}v1/circuits") as listed:
                assert (page.status, listed.status) == (200, 200)
            with urlopen(f"{address}v1/ready") as ready:
                assert ready.status == 200
            assert (tmp_path / "cases.sqlite").is_file()
        finally:
            process.terminate()
