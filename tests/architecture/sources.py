"""The project's files as the architecture tests read them."""

from __future__ import annotations

import ast
import io
import os
import tokenize
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("advisor", "api")


@dataclass(frozen=True)
class Import:
    """One imported module or name, written out in full; `relative` where the statement has leading dots."""

    target: str
    line: int
    relative: bool


@dataclass(frozen=True)
class Source:
    """One Python file: its dotted name, where it is, its text."""

    name: str
    path: Path
    text: str

    @cached_property
    def tree(self) -> ast.Module:
        """The parsed file."""
        return ast.parse(self.text, filename=str(self.path))

    @cached_property
    def comments(self) -> dict[int, str]:
        """The comment of each line that has one."""
        tokens = tokenize.generate_tokens(io.StringIO(self.text).readline)
        return {token.start[0]: token.string for token in tokens if token.type == tokenize.COMMENT}

    @property
    def functions(self) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
        """All functions and methods, the nested ones too."""
        return [node for node in ast.walk(self.tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]

    @property
    def imports(self) -> Iterator[Import]:
        """All imports, also those inside functions and those for type checking only."""
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Import):
                yield from (Import(alias.name, node.lineno, relative=False) for alias in node.names)
            elif isinstance(node, ast.ImportFrom):
                for alias in node.names:
                    yield Import(f"{node.module or ''}.{alias.name}", node.lineno, relative=node.level > 0)


def python_sources(root: Path, *folders: str) -> list[Source]:
    """Read every Python file under the folders, named as it is imported."""
    found = []
    for path in sorted(path for folder in folders for path in (root / folder).rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found.append(Source(name, path, path.read_text(encoding="utf-8")))
    return found


def project_sources() -> list[Source]:
    """Read every module that the project ships."""
    return python_sources(ROOT, *PACKAGES)


def project_texts() -> Iterator[tuple[str, str]]:
    """Give relative path and text of every file that belongs to the project, caches and environments left out."""
    made = {".git", ".venv", ".cache", ".mypy_cache", ".ruff_cache", ".pytest_cache", ".hypothesis", "__pycache__"}
    for top, folders, files in os.walk(ROOT):  # Path.walk came with Python 3.12
        folder = Path(top)
        folders[:] = [name for name in folders if name not in made and not (folder / name / "pyvenv.cfg").exists()]
        for name in files:
            path = folder / name
            # In a linked work tree .git is a file, and it names a folder of the machine.
            if name != ".git":
                yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8", errors="replace")
