"""Randomly damaged files never raise anything but KnowledgeError."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from advisor.errors import CircuitError, KnowledgeError
from advisor.knowledge.reader import read_any
from advisor.knowledge.shipped import shipped

FILES = sorted(str(path.relative_to(shipped("models"))) for path in shipped("models").rglob("*.yaml"))
ROUNDS = 12
# What a slip of the hand or of a program may leave in a YAML file.
SPLINTERS = (
    b"{",
    b"}",
    b"[",
    b"]",
    b":",
    b": ",
    b"\n",
    b"\t",
    b"- ",
    b"&a ",
    b"*a",
    b"!!x ",
    b'"',
    b"'",
    b"|",
    b"%",
    b"\x00",
    b"\xff",
)
SPLINTERS += (
    b"\xe2\x80\xa8",
    b".nan",
    b"1e999",
    b"9" * 5000,
    b'"\\UFFFFFFFF"',
    b'"\\uD800"',
    b"<<: ",
    b"? ",
    b"---\n",
    b"...\n",
    b"~",
)


def lines_deleted(content: bytes, random_source: random.Random) -> bytes:
    """Take one to five lines away."""
    lines = content.splitlines(keepends=True)
    for _ in range(random_source.randint(1, 5)):
        del lines[random_source.randrange(len(lines))]
    return b"".join(lines)


def lines_shuffled(content: bytes, random_source: random.Random) -> bytes:
    """Move a line to another place."""
    lines = content.splitlines(keepends=True)
    lines.insert(random_source.randrange(len(lines)), lines.pop(random_source.randrange(len(lines))))
    return b"".join(lines)


def bytes_flipped(content: bytes, random_source: random.Random) -> bytes:
    """Replace one to five bytes by random ones."""
    damaged = bytearray(content)
    for _ in range(random_source.randint(1, 5)):
        damaged[random_source.randrange(len(damaged))] = random_source.randrange(256)
    return bytes(damaged)


def splinters_added(content: bytes, random_source: random.Random) -> bytes:
    """Put pieces of YAML syntax at one to three places."""
    for _ in range(random_source.randint(1, 3)):
        position = random_source.randrange(len(content))
        content = content[:position] + random_source.choice(SPLINTERS) + content[position:]
    return content


def cut_short(content: bytes, random_source: random.Random) -> bytes:
    """Lose the end of the file."""
    return content[: random_source.randrange(len(content))]


DAMAGES = (lines_deleted, lines_shuffled, bytes_flipped, splinters_added, cut_short)


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.__name__)
def test_damage_is_read_or_reported(file: str, damage, tmp_path: Path) -> None:
    """A damaged file is either read or gives problems with an address and text that can be printed."""
    models = shutil.copytree(shipped("models"), tmp_path / "models")
    path, random_source = models / file, random.Random(f"{file} {damage.__name__}")
    whole = path.read_bytes()
    for _ in range(ROUNDS):
        path.write_bytes(damage(whole, random_source))
        try:
            read_any(path)
        except KnowledgeError as error:
            assert error.problems
            assert all(problem.line >= 1 and problem.column >= 1 for problem in error.problems)
            assert str(error).encode("utf-8")
        except CircuitError as error:  # it reads, and what it draws hangs in the air
            assert error.reasons and str(error).encode("utf-8")
