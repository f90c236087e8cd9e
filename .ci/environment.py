"""The virtual environment that both README commands work in: made once, then found again by a stamp.

Standard library only, since it runs before anything is installed.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
STAMP = "advisor-setup.json"
LOG = "advisor-setup.log"
# A kind of environment and its lock; a later kind holds every package of an earlier one, at the same version.
LOCKS = {"start": "start-lock.txt", "test": "lock.txt"}

UNREACHABLE = "Is the network (or the proxy, or the package index that pip is set to) reachable? Then run this again."
INCOMPLETE = "The packages are there, so something in this checkout's own files is missing or broken."


class SetupError(Exception):
    """The environment cannot be made; the text says why and what to do."""


def folder() -> Path:
    """Give the environment's folder: ADVISOR_VENV, or .venv in the checkout."""
    return Path(os.environ.get("ADVISOR_VENV") or CHECKOUT / ".venv").expanduser().absolute()


def script(venv: Path, name: str) -> Path:
    """Give the path of a command that the environment holds."""
    return venv / "Scripts" / f"{name}.exe" if os.name == "nt" else venv / "bin" / name


def key(kind: str) -> str:
    """Hash everything that the environment of this kind is made from: lock, project file, checkout, Python."""
    made_from = hashlib.sha256()
    for path in (CHECKOUT / ".ci" / LOCKS[kind], CHECKOUT / "pyproject.toml"):
        made_from.update(path.read_bytes())
    made_from.update(f"{CHECKOUT}\n{sys.version_info[:2]}".encode())
    return made_from.hexdigest()


def is_ready(venv: Path, kind: str) -> bool:
    """Say whether the environment already holds what this kind needs."""
    try:
        stamp = json.loads((venv / STAMP).read_text())
    except (OSError, ValueError):
        return False
    kinds = list(LOCKS)
    holds = [held for held in kinds[kinds.index(kind) :] if stamp.get(held) == key(held)]
    return bool(holds) and script(venv, "python").exists()


def prepare(kind: str) -> Path:
    """Make the environment of this kind unless it is there, printing each step, and give its folder.

    Raises:
        SetupError: A step failed; the text names the step, the last word of the tool and the way out.
    """
    venv = folder()
    if is_ready(venv, kind):
        return venv
    _create(venv)
    log = venv / LOG
    log.write_text("")
    lock = CHECKOUT / ".ci" / LOCKS[kind]
    count = len(re.findall(r"^[a-z]", lock.read_text(), flags=re.MULTILINE))
    _say(f"2/3 installing up to {count} pinned packages, each checked against its hash")
    _install(venv, log, ["--require-hashes", "-r", str(lock)], way_out=UNREACHABLE, total=count)
    _say("3/3 installing the advisor itself")
    # Hatchling comes from the lock, so that no unpinned build tool is fetched.
    _install(venv, log, ["--no-deps", "--no-build-isolation", "--no-index", "-e", str(CHECKOUT)], way_out=INCOMPLETE)
    (venv / STAMP).write_text(json.dumps({kind: key(kind)}))
    return venv


def _create(venv: Path) -> None:
    """Make an empty virtual environment, or keep one that works; never clear a folder that is none."""
    if venv.exists() and not venv.is_dir():
        raise SetupError(f"{venv} is not a folder; set ADVISOR_VENV to a folder for the virtual environment")
    if venv.exists() and any(venv.iterdir()) and not (venv / "pyvenv.cfg").exists():
        raise SetupError(f"{venv} holds something else than a virtual environment; set ADVISOR_VENV to another folder")
    _say(f"1/3 virtual environment in {venv}")
    (venv / STAMP).unlink(missing_ok=True)
    if _same_python(venv):
        return
    made = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", str(venv)], capture_output=True, text=True, check=False
    )
    if made.returncode:
        raise SetupError(
            f"cannot make a virtual environment: {_last_line(made.stdout + made.stderr)}\n"
            "Is Python's venv module complete (on Debian: the package python3-venv) and the folder writable?"
        )


def _same_python(venv: Path) -> bool:
    """Say whether the environment has a working pip on the Python version that runs this."""
    ask = [str(script(venv, "python")), "-c", "import pip, sys; print(sys.version_info[:2])"]
    try:
        answer = subprocess.run(ask, capture_output=True, text=True, check=False)
    except OSError:
        return False
    return answer.stdout.strip() == str(sys.version_info[:2])


def _install(venv: Path, log: Path, what: list[str], *, way_out: str, total: int = 0) -> None:
    """Run pip, counting packages on the terminal and keeping its whole output in the log."""
    command = [str(script(venv, "python")), "-m", "pip", "install", "--disable-pip-version-check", *what]
    quick_to_fail = {"PIP_RETRIES": "2", **os.environ, "PIP_NO_INPUT": "1"}
    tail: list[str] = []
    with (
        log.open("a") as file,
        subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace", env=quick_to_fail
        ) as pip,
    ):
        for line in _counted(pip.stdout or (), total):
            file.write(line)
            tail = [*tail[-200:], line]
    if pip.returncode:
        raise SetupError(
            f"pip could not install: {_last_line(''.join(tail))}\n{way_out}\nAll of pip's output is in {log}"
        )


def _counted(lines: Iterable[str], total: int) -> Iterable[str]:
    """Pass lines on, printing one progress line for each tenth package."""
    seen = 0
    for line in lines:
        if line.startswith(("Collecting ", "Installing collected")):
            seen += 1
            if line.startswith("Installing"):
                _say("    unpacking")
            elif total and seen % 10 == 1:
                _say(f"    fetching {line.split()[1].split('==')[0]} ({seen} of at most {total})")
        yield line


def _last_line(output: str) -> str:
    """Give the line of a tool's output that says most: its last error, else its last line."""
    lines = [line.strip() for line in output.splitlines() if line.strip()] or ["no output"]
    errors = [line for line in lines if line.lower().startswith("error")]
    return (errors or lines)[-1]


def _say(text: str) -> None:
    print(text, flush=True)


def run(kind: str, name: str, *arguments: str) -> int:
    """Prepare the environment, run one of its commands in the checkout and give the exit code."""
    return subprocess.run([str(script(prepare(kind), name)), *arguments], cwd=CHECKOUT, check=False).returncode


if __name__ == "__main__":
    # For .ci/run, which needs the tools before the tests: python3 .ci/environment.py test
    try:
        print(prepare(sys.argv[1]))
    except SetupError as error:
        sys.exit(f"error: {error}")
