"""The list of circuits on the command line."""

import json

import fakes
import pytest
from click.testing import CliRunner

from advisor.cli import main
from api.app import create_app


def run(*args: str):
    """Run the command on the hand-built engine."""
    return CliRunner().invoke(main, ["circuits", *args], obj=fakes.engine())


@pytest.mark.parametrize(("args", "path"), [([], "/v1/circuits"), (["other-lamp"], "/v1/circuits/other-lamp")])
def test_json_is_what_http_gives(args, path):
    """The list and one circuit are those of the API."""
    assert json.loads(run(*args, "--json").stdout) == create_app(fakes.engine()).test_client().get(path).get_json()


def test_tables_for_a_person():
    """Without --json titles, symptoms, tests, parts and withheld tests are told."""
    assert "belt-reminder" in run().output
    output = run("belt-reminder").output
    for text in ("lamp-stays-dark", "volts.C12-7.reminding", "buckle-switch", "not proposed"):
        assert text in output


def test_an_unknown_circuit_ends_with_two():
    """An unknown id is told with the nearest one."""
    result = run("belt-remainder")
    assert result.exit_code == 2
    assert "did you mean belt-reminder?" in result.output
