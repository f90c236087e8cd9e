"""The group of commands."""

import json
import subprocess
import sys
from pathlib import Path

import click
import fakes
import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.cli.group import Commands
from advisor.errors import KnowledgeError, Problem, UsageError

ROOT = Path(__file__).parents[2]


def group(raised: Exception | int) -> Commands:
    """Make a group with one command that raises, or exits with a code."""
    made = Commands("demo", commands_at={})

    @made.command("do")
    @click.option("--json", is_flag=True)
    @click.pass_context
    def do(context: click.Context, json: bool) -> None:
        if isinstance(raised, int):
            context.exit(raised)
        raise raised

    return made


def test_help_starts_without_the_server():
    """Help and the package itself load no Flask, pandas or pgmpy."""
    code = (
        "import sys, advisor; from advisor.cli import main\n"
        "try: main(['--help'])\n"
        "except SystemExit as end: assert end.code == 0\n"
        "assert not {'flask', 'pandas', 'pgmpy', 'sqlalchemy'} & set(sys.modules), sorted(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True)


def test_other_packages_register_commands(tmp_path, monkeypatch):
    """A command of the entry point group is found by its name, and only then loaded."""
    package = tmp_path / "extra_command.py"
    package.write_text(
        "import click\n\n@click.command()\ndef hello():\n    '''Say hello.'''\n    click.echo('hello')\n"
    )
    info = tmp_path / "extra_command-1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: extra-command\nVersion: 1\n")
    (info / "entry_points.txt").write_text("[advisor.commands]\nhello = extra_command:hello\n")
    monkeypatch.syspath_prepend(tmp_path)
    assert "hello" in CliRunner().invoke(main, ["--help"]).output
    assert CliRunner().invoke(main, ["hello"]).output == "hello\n"


def test_an_unknown_command_is_a_usage_error():
    """A command that does not exist ends with 2."""
    result = CliRunner().invoke(main, ["nope"])
    assert result.exit_code == 2
    assert "No such command" in result.output


@pytest.mark.parametrize(
    ("raised", "code", "text"),
    [
        (0, 0, ""),
        (1, 1, ""),
        (UsageError("no such thing"), 2, "no such thing"),
        (KnowledgeError([Problem("a.yaml", 3, 1, "unknown key")]), 2, "a.yaml:3:1: unknown key"),
        (RuntimeError("odd"), 3, "please report it"),
    ],
)
def test_exit_codes(raised, code, text):
    """0 ok, 1 findings of a check, 2 bad request or usage, 3 a defect; never a traceback."""
    result = CliRunner().invoke(group(raised), ["do"])
    assert result.exit_code == code
    assert text in result.output
    assert "Traceback" not in result.output


@pytest.mark.parametrize("raised", [UsageError("no"), RuntimeError("odd"), KnowledgeError([])])
def test_only_json_on_stdout(raised):
    """With --json an error is a problem document on stdout."""
    result = CliRunner().invoke(group(raised), ["do", "--json"])
    assert set(json.loads(result.stdout)) == {"type", "title", "status", "detail", "errors"}


def test_usage_errors_are_json_too():
    """An option that does not exist is told as JSON to who asks for JSON."""
    result = CliRunner().invoke(main, ["advise", "belt-reminder", "--json", "--odd"], obj=fakes.engine())
    assert result.exit_code == 2
    assert json.loads(result.stdout)["status"] == 400


def test_version():
    """The version is told without an installed package."""
    assert CliRunner().invoke(main, ["--version"]).output.startswith("advisor, version ")
