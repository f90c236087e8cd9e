"""The README's two commands: what they are, and that they set up once, say what fails and clear nothing."""

import importlib.util
import json
import os
import re
import signal
import socket
import subprocess
import sys

import pytest
from architecture.sources import ROOT

CI = ROOT / ".ci"


@pytest.fixture
def environment(monkeypatch, tmp_path):
    """Give the set-up module, with a folder of its own for the environment."""
    monkeypatch.setenv("ADVISOR_VENV", str(tmp_path / "venv"))
    spec = importlib.util.spec_from_file_location("environment", CI / "environment.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def furnished(environment):
    """Give a folder that passes for a finished environment, whose advisor prints its arguments, or waits on serve."""
    venv = environment.folder()
    (venv / "bin").mkdir(parents=True)
    (venv / "pyvenv.cfg").write_text("")
    (venv / "bin" / "python").symlink_to(sys.executable)
    advisor = venv / "bin" / "advisor"
    advisor.write_text(
        f"#!{sys.executable}\nimport sys, time\nprint('called', *sys.argv[1:], flush=True)\n"
        "if sys.argv[1] == 'serve': time.sleep(60)\n"
    )
    advisor.chmod(0o755)
    (venv / environment.STAMP).write_text(json.dumps({"test": environment.key("test")}))
    return venv


def run(script, *arguments, **settings):
    """Run one of the commands as a person would, and give what it did."""
    command = [sys.executable, str(CI / script), *arguments]
    return subprocess.run(command, capture_output=True, text=True, env={**os.environ, **settings}, check=False)


def test_readme_gives_the_two_commands():
    """The README opens with a paragraph and then shows one command to start and one to test, as they are."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert re.findall(r"^python3 \.ci/\S+\.py.*$", text, flags=re.MULTILINE)[:2] == [
        "python3 .ci/start.py",
        "python3 .ci/test.py",
    ]
    title, opening = text.split("\n\n")[:2]
    assert title.startswith("# ")
    assert opening[0].isalpha() and len(opening) > 200


def test_full_check_runs_the_readmes_test_command():
    """The check of a submission takes its test command from the README and requires everything."""
    script = (CI / "run").read_text(encoding="utf-8")
    for needed in ("README.md", "ADVISOR_REQUIRE_ALL=1", "ADVISOR_REQUIRE_NGSPICE=1", "format --check", "mypy"):
        assert needed in script


def test_a_finished_environment_is_used_at_once(furnished):
    """With the stamp of the larger kind in place nothing is installed: the example runs and the command ends."""
    done = run("start.py", "--once")
    assert (done.returncode, done.stderr) == (0, "")
    assert "called advise belt-reminder --symptom lamp-stays-dark" in done.stdout
    assert "1/3" not in done.stdout


def test_a_changed_lock_makes_the_stamp_stale(furnished, environment, monkeypatch, tmp_path):
    """The stamp holds for the lock that it was made from, and for no other."""
    assert environment.is_ready(furnished, "start")
    assert environment.is_ready(furnished, "test")
    (furnished / environment.STAMP).write_text(json.dumps({"test": "another lock's hash"}))
    assert not environment.is_ready(furnished, "start")
    (furnished / environment.STAMP).write_text(json.dumps({"start": environment.key("start")}))
    assert environment.is_ready(furnished, "start")
    assert not environment.is_ready(furnished, "test")


def test_server_stays_up_on_a_free_port_until_told_to_stop(furnished):
    """With its port taken the server gets the next free one, the address is printed, and a stop is a success."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        command = [sys.executable, str(CI / "start.py"), "--port", str(port)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
            lines = []
            for line in server.stdout:
                lines.append(line.strip())
                if line.startswith("called serve"):
                    break
            server.send_signal(signal.SIGTERM)
            assert server.wait(timeout=20) == 0
    assert f"port {port} is in use; taking" in " ".join(lines)
    address, arguments = lines[-2], lines[-1]
    assert re.fullmatch(r"starting page and API on http://127\.0\.0\.1:\d+/ .*", address)
    chosen = int(re.search(r":(\d+)/", address).group(1))
    assert chosen > port
    assert arguments == f"called serve --host 127.0.0.1 --port {chosen}"


def test_a_folder_with_other_things_is_left_alone(environment):
    """A folder that is no virtual environment is refused with a clear line, and nothing in it is touched."""
    folder = environment.folder()
    folder.mkdir()
    (folder / "letter.txt").write_text("dear")
    done = run("start.py", "--once")
    assert done.returncode == 1
    assert done.stderr.startswith(f"error: {folder} holds something else than a virtual environment; set ADVISOR_VENV")
    assert [path.name for path in folder.iterdir()] == ["letter.txt"]


def test_no_network_is_said_in_words(environment):
    """An index that does not answer ends in a plain line with the way out, and no traceback."""
    nowhere = {"PIP_CONFIG_FILE": os.devnull, "PIP_RETRIES": "0", "PIP_FIND_LINKS": "", "PIP_EXTRA_INDEX_URL": ""}
    done = run("start.py", "--once", PIP_INDEX_URL="http://127.0.0.1:9/", PIP_NO_CACHE_DIR="1", **nowhere)
    assert done.returncode == 1
    assert "error: pip could not install" in done.stderr
    assert "Is the network" in done.stderr
    assert "Traceback" not in done.stdout + done.stderr


@pytest.mark.parametrize("script", ["start.py", "test.py"])
def test_an_old_python_is_told_which_it_needs(script):
    """On a Python that is too old the first line says so, before anything that it could not read."""
    code = "import runpy, sys; sys.version_info = (3, 10, 1); runpy.run_path(sys.argv[1], run_name='__main__')"
    command = [sys.executable, "-c", code, str(CI / script)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("error: the advisor needs Python 3.11 or newer")


def test_a_port_out_of_range_is_refused():
    """A port that no machine has is a usage error."""
    done = run("start.py", "--port", "70000")
    assert done.returncode == 2
    assert "--port must be 1 to 65535" in done.stderr
