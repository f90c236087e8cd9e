"""The network that a roles file names: found, converted once by a process of its own, and kept by its content."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NoReturn

from advisor.errors import KnowledgeError, Problem
from advisor.knowledge.cache import content_hash
from advisor.knowledge.documents import Address
from advisor.knowledge.interchange import from_json
from advisor.network.tree.families import Discrete

SHIPPED_ELSEWHERE = "pgmpy:"
"""What stands before the name of a network that comes with pgmpy."""
_SECONDS = 600
_KEEP_NETWORKS = 40


def network_file(written: str, at: Address) -> Path:
    """The file that a roles file names, relative to it, or by `pgmpy:NAME` one that comes with that library.

    Raises:
        KnowledgeError: there is none.
    """
    if not written.startswith(SHIPPED_ELSEWHERE):
        path = Path(os.path.normpath(Path(at.file).parent / written))
        if not path.is_file():
            _refuse(at, f"file: the file {str(path)!r} does not exist")
        return path
    found = importlib.util.find_spec("pgmpy")  # finds it without loading it
    if found is None or not found.submodule_search_locations:
        _refuse(at, f"file: {written} comes with pgmpy, which is not installed: pip install 'advisor[analyst]'")
    folder = Path(found.submodule_search_locations[0]) / "utils" / "example_models"
    path = folder / f"{written.removeprefix(SHIPPED_ELSEWHERE)}.bif.gz"
    if path.parent != folder or not path.is_file():
        known = ", ".join(sorted(each.name.removesuffix(".bif.gz") for each in folder.glob("*.bif.gz")))
        _refuse(at, f"file: pgmpy has no network {written!r}, expected one of: {known}")
    return path


def converted(path: Path, folder: Path | None) -> Discrete:
    """The network of a file, from the cache in `folder` (None: no cache) or converted now.

    Raises:
        KnowledgeError: the file is no network; problems have their lines.
    """
    entry = folder / f"network-{_key(path)}.json" if folder else None
    text = _kept(entry) if entry else None
    if text is None:
        text = _convert(path)
        if entry:
            _keep(entry, text)
    return Discrete(from_json(text))


def _key(path: Path) -> str:
    readers = content_hash([path, Path(__file__).with_name("interchange.py")])
    return hashlib.sha256(readers.encode()).hexdigest()


def _kept(entry: Path) -> str | None:
    """What was kept, None where it is not whole."""
    try:
        checksum, _, text = entry.read_text(encoding="utf-8").partition("\n")
    except OSError:
        return None
    return text if checksum == hashlib.sha256(text.encode()).hexdigest() else None


def _keep(entry: Path, text: str) -> None:
    """Write aside and rename; a cache that cannot be written is no error."""
    try:
        entry.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(dir=entry.parent, prefix=".new-")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(hashlib.sha256(text.encode()).hexdigest() + "\n" + text)
        os.replace(aside, entry)
        for old in sorted(entry.parent.glob("network-*.json"), key=lambda file: file.stat().st_mtime)[:-_KEEP_NETWORKS]:
            old.unlink()
    except OSError:
        return


def _convert(path: Path) -> str:
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "network.json"
        done = subprocess.run(
            [sys.executable, "-m", "advisor.knowledge.interchange", str(path), str(target)],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            capture_output=True,
            text=True,
            check=False,
            timeout=_SECONDS,
        )
        if done.returncode == 0:
            return target.read_text(encoding="utf-8")
        if target.is_file():
            said = json.loads(target.read_text(encoding="utf-8"))
            raise KnowledgeError([Problem(str(path), line, column, what) for line, column, what in said])
    last = (done.stderr.strip().splitlines() or ["no word of why"])[-1]
    raise KnowledgeError([Problem(str(path), 1, 1, f"the network's reader stopped: {last}")])


def _refuse(at: Address, what: str) -> NoReturn:
    raise KnowledgeError([Problem(at.file, at.line, at.column, what)])
