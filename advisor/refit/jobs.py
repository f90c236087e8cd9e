"""Counting many files of orders as one job: resumable, on this machine or on the workers of a Dask cluster."""

from __future__ import annotations

import hashlib
import io
import json
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow  # type: ignore[import-untyped] # it ships no types
from pyarrow import parquet

from advisor.errors import MissingExtraError, OrdersFileError, Problem, UsageError
from advisor.knowledge.solving import Progress, silent
from advisor.refit import columns, patterns
from advisor.refit.counting import SCHEMA, count_file, merged

MANIFEST = "manifest.json"
JOB_FORMAT = "patterns-job/1"
STAGE = "counting orders"


@dataclass(frozen=True)
class Task:
    """One file of orders and where its patterns go; the part's name is that of the file's state and of our rules."""

    source: str
    part: str

    @property
    def done(self) -> bool:
        """Whether its part is there; parts appear whole or not at all."""
        return Path(self.part).is_file()


Run = Callable[[Sequence[Task]], Iterator[Task]]
"""Does tasks in any order, and gives each once it is done."""


def count_orders(
    source: Path, work: Path, *, scheduler: str | None = None, progress: Progress = silent
) -> pyarrow.Table:
    """Count the patterns of a Parquet file of orders, or of all in a folder; the same on any number of workers.

    What was counted is kept in `work`: a job that was interrupted goes on where it stopped, and a file that has changed
    since is counted anew.

    Args:
        source: The file or folder; with a scheduler every worker has to see it under this path.
        work: Folder of what was counted, made if it is not there; shared in the same way.
        scheduler: Address of a Dask scheduler, such as tcp://host:8786; None counts here.
        progress: Is told how many files are done.

    Returns:
        Patterns, as `advisor.refit.counting.SCHEMA` describes them.

    Raises:
        OrdersFileError: there is no such file, or one is no sound Parquet file of orders.
        MissingExtraError: there is a scheduler, and the extra cluster is not installed.
        UsageError: no scheduler answers.
    """
    tasks = _tasks(source, work)
    _write_manifest(work, tasks)
    open_tasks = [task for task in tasks if not task.done]
    done = len(tasks) - len(open_tasks)
    progress(STAGE, done, len(tasks))
    for _ in (_here if scheduler is None else _cluster(scheduler))(open_tasks):
        done += 1
        progress(STAGE, done, len(tasks))
    return merged(parquet.read_table(task.part, schema=SCHEMA) for task in tasks)


def _tasks(source: Path, work: Path) -> list[Task]:
    files = sorted(source.glob("**/*.parquet")) if source.is_dir() else [source]
    if not files or not all(file.is_file() for file in files):
        raise OrdersFileError([Problem(str(source), 1, 1, "is no Parquet file and no folder with some")])
    work.mkdir(parents=True, exist_ok=True)
    return [Task(str(file.absolute()), str(work.absolute() / f"{_state_of(file)}.parquet")) for file in files]


def _state_of(file: Path) -> str:
    """Hash what a file's patterns depend on: which file, its size and time, and how we write patterns."""
    known, rules = file.stat(), hashlib.sha256()
    for module in (columns, patterns):
        rules.update(Path(str(module.__file__)).read_bytes())
    state = f"{file.absolute()}\n{known.st_size}\n{known.st_mtime_ns}\n{rules.hexdigest()}"
    return hashlib.sha256(state.encode("utf-8", "surrogateescape")).hexdigest()[:32]


def _write_manifest(work: Path, tasks: Sequence[Task]) -> None:
    """Say which part belongs to which file, and throw away parts of files that have changed or are gone."""
    told = {"format": JOB_FORMAT, "parts": {Path(task.part).name: task.source for task in tasks}}
    _replace(work / MANIFEST, json.dumps(told, indent=1).encode())
    for part in {*work.glob("*.parquet")} - {Path(task.part) for task in tasks}:
        with suppress(FileNotFoundError):
            part.unlink()


def _replace(path: Path, raw: bytes) -> None:
    beside = path.with_name(f"{path.name}.{os.getpid()}.new")
    beside.write_bytes(raw)
    beside.replace(path)


def do(task: Task) -> Task:
    """Count one file and put its patterns where they belong, whole or not at all.

    Raises:
        OrdersFileError: it is no sound Parquet file of orders.
    """
    part = Path(task.part)
    try:
        counted = count_file(Path(task.source))
    except (pyarrow.ArrowException, ValueError) as error:  # damaged, or findings that are no JSON
        raise OrdersFileError([Problem(task.source, 1, 1, f"cannot be counted: {error}")]) from error
    _replace(part, _as_file(counted))
    return task


def write_patterns(counted: pyarrow.Table, path: Path) -> None:
    """Write patterns as a Parquet file, whole or not at all; raises OrdersFileError."""
    try:
        _replace(path, _as_file(counted))
    except OSError as error:
        raise OrdersFileError([Problem(str(path), 1, 1, f"cannot be written: {error.strerror}")]) from error


def _as_file(counted: pyarrow.Table) -> bytes:
    file = io.BytesIO()
    parquet.write_table(counted, file)
    return file.getvalue()


def _here(tasks: Sequence[Task]) -> Iterator[Task]:
    return map(do, tasks)


def _cluster(scheduler: str) -> Run:
    def run(tasks: Sequence[Task]) -> Iterator[Task]:
        """Let the workers do the tasks."""
        with _client(scheduler) as client:
            from distributed import KilledWorker, as_completed  # noqa: PLC0415 - an extra

            try:
                for future in as_completed(client.map(do, tasks, pure=False)):  # type: ignore[no-untyped-call] # as below
                    yield future.result()
            except (KilledWorker, CancelledError, OSError) as error:  # workers or the scheduler went away
                raise UsageError(f"the cluster failed; the same command goes on from here: {error}") from error

    return run


def _client(scheduler: str) -> Any:  # noqa: ANN401  the library ships no types
    try:
        from distributed import Client  # noqa: PLC0415 - an extra
    except ModuleNotFoundError as error:
        raise MissingExtraError("a cluster needs the extra cluster: pip install 'advisor[cluster]'") from error
    try:
        return Client(scheduler, timeout="10s")  # type: ignore[no-untyped-call] # it ships no types
    except (OSError, TimeoutError, ValueError) as error:
        raise UsageError(f"no Dask scheduler answers at {scheduler}: {error}") from error
