"""The README's commands for shops: run as they are written, and their options are those of the code."""

import inspect
import json
import os
import re
import shlex
import shutil
import subprocess

import pytest
import servers
from architecture.sources import ROOT

from api import wsgi
from api.serve import serve


def blocks(section: str, language: str = "sh") -> list[str]:
    """Give the fenced blocks of a section of the README."""
    text = (ROOT / "README.md").read_text(encoding="utf-8").partition(f"\n## {section}\n")[2].partition("\n## ")[0]
    found = re.findall(rf"```{language}\n(.*?)```", text, flags=re.DOTALL)
    assert found
    return found


def test_the_integration_runs_as_written(tmp_path):
    """Opened, advised, found, refused, closed, listed, exported and imported by the very lines of the README."""
    assert shutil.which("curl"), "curl is missing; on Debian: apt-get install curl"
    place = str(tmp_path / "cases.sqlite")
    secret = servers.a_token(place, role="analyst", name="shop software")
    with servers.waitress(place, tmp_path, "--tokens") as served:
        told = {"ADVISOR": f"http://127.0.0.1:{served.port}", "TOKEN": secret}
        script = "set -euo pipefail\n" + "\necho\n".join(blocks("Integrate your shop software"))
        done = subprocess.run(
            ["bash", "-c", script],
            capture_output=True,
            text=True,
            cwd=tmp_path,
            env={**os.environ, **told},
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        bearer = {"Authorization": f"Bearer {secret}"}
        (line,) = json.loads(served.ask("GET", "/v1/cases", **bearer)[2])["cases"]
        case = json.loads(served.ask("GET", f"/v1/cases/{line['id']}", **bearer)[2])
    assert (case["state"], case["version"], case["reference"]) == ("closed", 3, "4711")
    assert {event["by"] for event in case["events"]} == {"shop software"}
    assert '"type":"/problems/case-changed"' in done.stdout and "look at what has changed first" in done.stdout
    assert (tmp_path / "orders.csv").read_text().count("4711") == 1
    assert '"rows":1,"accepted":1,"rejected":0' in done.stdout


def lines_of(section: str, program: str) -> list[list[str]]:
    """Give the commands of a program in a section, as words."""
    lines = [line for block in blocks(section) for line in block.splitlines()]
    return [shlex.split(line, comments=True) for line in lines if line.startswith(f"{program} ")]


@pytest.mark.parametrize("words", lines_of("Running it", "advisor"), ids=" ".join)
def test_the_options_are_those_of_the_commands(words):
    """Each command of the section is taken as it stands; none is run."""
    import click

    from advisor.cli import main

    command, rest = main, words[1:]
    context = click.Context(main, info_name="advisor")
    while isinstance(command, click.Group):
        command = {"serve": serve}.get(rest[0]) or command.get_command(context, rest[0])
        rest = rest[1:]
    command.make_context("x", rest, parent=context)


def test_the_bigger_site_is_called_as_it_is_defined():
    """What gunicorn is given names the settings and the application with arguments that it takes."""
    (words,) = lines_of("Running it", "gunicorn")
    assert words[1:3] == ["-c", "python:api.site"]
    name, _, call = words[-1].removeprefix("api.wsgi:").partition("(")
    arguments = eval(f"dict({call}")
    inspect.signature(getattr(wsgi, name)).bind(**arguments)
    assert wsgi.checked(tuple(arguments["proxies"])) == ("10.0.0.5",)
