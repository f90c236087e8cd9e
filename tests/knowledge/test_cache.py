"""Compiled circuits are found by content."""

import os
import re
import shutil
import subprocess
import sys

import numpy as np
import pytest

from advisor.decision.advise import decide
from advisor.knowledge import cache
from advisor.knowledge.loading import load_model
from advisor.knowledge.shipped import shipped
from advisor.network.findings import SymptomFinding

QUICK = 500


@pytest.fixture
def models(tmp_path):
    """A copy of the shipped model files."""
    return shutil.copytree(shipped("models"), tmp_path / "models")


def replace_keeping_stamp(path, old, new):
    """Change one text of equal length and put the time stamp back."""
    stamp, text = path.stat(), path.read_text(encoding="utf-8")
    assert len(old) == len(new) and text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert path.stat().st_size == stamp.st_size


def first_cause(models, folder):
    """Ranking of the belt reminder compiled from a folder of model files."""
    model = load_model(models / "quellmar-p3" / "circuits" / "belt-reminder.yaml", folder, QUICK)
    return model.knowledge, [(c.part, c.probability) for c in decide(model, [SymptomFinding("lamp-dim")]).causes]


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("quellmar-p3/circuits/belt-reminder.yaml", "on_ohms: 0.5", "on_ohms: 9.5"),
        ("library/parts.yaml", "weak: {share: 0.33", "weak: {share: 0.32"),
    ],
    ids=["resistance", "library rate"],
)
def test_a_changed_number_moves_the_answer(models, tmp_path, file, old, new):
    """One resistance, or one library rate, changed with size and time stamp kept: hash and answer move."""
    before = first_cause(models, tmp_path / "cache")
    if "share" in old:
        text = (models / file).read_text(encoding="utf-8")
        (models / file).write_text(re.sub(r"open: \{share: 0.67", "open: {share: 0.68", text), encoding="utf-8")
        before_hash = before[0]
        replace_keeping_stamp(models / file, old, new)
        assert before_hash != first_cause(models, tmp_path / "cache")[0]
    else:
        replace_keeping_stamp(models / file, old, new)
    after = first_cause(models, tmp_path / "cache")
    assert after[0] != before[0]
    assert after[1] != before[1]


def test_second_load_is_the_same_answer(models, tmp_path):
    """What comes out of the cache answers like what went in."""
    assert first_cause(models, tmp_path / "cache") == first_cause(models, tmp_path / "cache")
    assert len(list((tmp_path / "cache").iterdir())) == 1


@pytest.mark.parametrize("file", ["compiled.json", "value.npy"])
def test_damage_is_compiled_again(models, tmp_path, file):
    """A damaged entry is not answered from."""
    before = first_cause(models, tmp_path / "cache")
    (entry,) = (tmp_path / "cache").iterdir()
    damaged = bytearray((entry / file).read_bytes())
    damaged[-3] ^= 0x11
    (entry / file).write_bytes(damaged)
    assert cache.fetch(tmp_path / "cache", entry.name) is None
    assert first_cause(models, tmp_path / "cache") == before


def test_folder_is_private(models, tmp_path):
    """Nobody else reads the cache."""
    first_cause(models, tmp_path / "cache")
    assert (tmp_path / "cache").stat().st_mode & 0o777 == 0o700


def test_what_comes_from_the_cache_is_shared_and_cannot_be_written(models, tmp_path):
    """Arrays are maps of the files, whose pages all processes share, and nobody writes to them."""
    path = models / "quellmar-p3" / "circuits" / "belt-reminder.yaml"
    load_model(path, tmp_path / "cache", QUICK)
    value = load_model(path, tmp_path / "cache", QUICK).compiled.value
    assert isinstance(value.base, np.memmap)
    with pytest.raises(ValueError, match="read-only"):
        value[0, 0] = 1.0


LOADING = """
import sys
from pathlib import Path
from advisor.knowledge.loading import load_model
file, folder, changed = map(Path, sys.argv[1:])
for _ in range(2):
    load_model(file, folder, 100)
    with changed.open("a", encoding="utf-8") as stream:
        stream.write("# changed while a process runs\\n")
"""


def test_a_process_stays_with_the_sources_that_it_imported(tmp_path):
    """Sources that change while it runs are no key for what its old ones compile; the next process compiles anew."""
    sources, folder = tmp_path / "sources", tmp_path / "cache"
    for name in ("advisor", "models"):
        top = shipped("models").parent / name
        shutil.copytree(top, sources / name, ignore=shutil.ignore_patterns("__pycache__"))
    asked = [
        sources / "models" / "quellmar-p3" / "circuits" / "horn.yaml",
        folder,
        sources / "advisor/circuit/solve.py",
    ]
    for entries in (1, 2):
        command = [sys.executable, "-c", LOADING, *map(str, asked)]
        subprocess.run(command, check=True, cwd=sources, env={**os.environ, "PYTHONPATH": str(sources)})
        assert len(list(folder.iterdir())) == entries
