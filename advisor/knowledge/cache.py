"""Compiled circuits on disk, found by content: nothing is answered from a file that has changed.

The key is the SHA-256 of every model file read and of the sources that compile them.  Arrays are plain `.npy`
and JSON, never pickles; an entry is written aside and renamed, so a reader never meets half of one; a broken
entry is compiled again.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import TypeAdapter

from advisor.knowledge.catalogue import Test, Withheld
from advisor.knowledge.compiled import Compiled

_ARRAYS = (
    *("members", "severities", "value", "spread", "jumps", "presence", "jumper_amps"),
    *("needs", "otherwise", "bend", "latched", "mirrored", "mirrored_bend"),
)
_KEEP_ENTRIES = 40
_HEADER = 128  # bytes, of the .npy format for arrays of few dimensions


def content_hash(files: Iterable[str | Path]) -> str:
    """SHA-256 over the contents of files in the order given, as "sha256:...": names and times do not count."""
    digest = hashlib.sha256()
    for file in files:
        data = Path(file).read_bytes()
        digest.update(len(data).to_bytes(8, "big") + data)
    return "sha256:" + digest.hexdigest()


def _source_hash() -> str:
    package = Path(__file__).parent.parent
    folders = (package / "circuit", package / "network", package / "knowledge")
    return content_hash(sorted(file for folder in folders for file in folder.glob("*.py")))


SOURCES = _source_hash()
"""Hash of the sources whose change could change a compiled circuit, as they were when this process imported them.

Were they hashed at each load, a process that runs on while they change would keep what its old ones compiled under
the new ones' key.
"""


@dataclass(frozen=True)
class _Document:
    """Everything of a compiled circuit but its arrays."""

    tests: tuple[Test, ...]
    withheld: tuple[Withheld, ...]
    causes: tuple[str, ...]
    seconds: dict[str, float]


_ADAPTER = TypeAdapter(_Document)


def fetch(folder: Path, key: str) -> Compiled | None:
    """The entry of this key, or None if there is none that is whole."""
    entry = folder / key
    try:
        checksum, _, text = (entry / "compiled.json").read_text(encoding="utf-8").partition("\n")
        if checksum != _checksum(text, entry):
            return None
        arrays = {name: _array(entry / f"{name}.npy") for name in _ARRAYS}
        document = _ADAPTER.validate_json(text)
        return Compiled(document.tests, document.withheld, document.causes, seconds=document.seconds, **arrays)
    except (OSError, ValueError, EOFError):
        return None  # absent, half written by an older release, or damaged: the caller compiles again


def _array(file: Path) -> Any:  # noqa: ANN401 # Any: each of the arrays has its own type of numbers
    """Map an array into memory: all processes that read an entry share its pages."""
    if file.stat().st_size <= _HEADER:  # nothing but a header, and an empty map there is not
        loaded = np.load(file, allow_pickle=False)
    else:
        loaded = np.load(file, mmap_mode="r", allow_pickle=False)
    return np.asarray(loaded)


def keep(folder: Path, key: str, compiled: Compiled) -> None:
    """Write an entry aside and rename it into place; a cache that cannot be written is no error."""
    document = _Document(compiled.tests, compiled.withheld, compiled.causes, compiled.seconds)
    text = json.dumps(_ADAPTER.dump_python(document))  # open range ends stay infinite: for this reader only
    arrays = {name: getattr(compiled, name) for name in _ARRAYS}
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(dir=folder, prefix=".new-"))
        for name, array in arrays.items():
            np.save(aside / f"{name}.npy", array, allow_pickle=False)
        (aside / "compiled.json").write_text(_checksum(text, aside) + "\n" + text, encoding="utf-8")
        shutil.rmtree(folder / key, ignore_errors=True)
        try:
            os.replace(aside, folder / key)
        except OSError:  # another process was quicker with the same content
            shutil.rmtree(aside, ignore_errors=True)
        _drop_oldest(folder)
    except OSError:
        return


def _drop_oldest(folder: Path) -> None:
    entries = sorted((e for e in folder.iterdir() if e.is_dir()), key=lambda e: e.stat().st_mtime)
    for entry in entries[:-_KEEP_ENTRIES]:
        shutil.rmtree(entry, ignore_errors=True)


def _checksum(text: str, entry: Path) -> str:
    """SHA-256 over an entry; its files are read and not mapped, so that what nobody asks of them stays on disk."""
    digest = hashlib.sha256(text.encode())
    for name in _ARRAYS:
        with (entry / f"{name}.npy").open("rb") as file:
            digest.update(hashlib.file_digest(file, "sha256").digest())
    return digest.hexdigest()
