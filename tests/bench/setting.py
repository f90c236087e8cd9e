"""What every bench prints beside its figures, and how it takes time."""

from __future__ import annotations

import os
import platform
import re
import shutil
import statistics
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import scipy
from rich.console import Console
from rich.table import Table


def machine() -> str:
    """Say processor, cores, load and versions in one line."""
    info = Path("/proc/cpuinfo")
    found = re.search(r"model name\s*: (.*)", info.read_text(encoding="utf-8")) if info.is_file() else None
    name = found[1] if found else platform.processor() or platform.machine()
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    threads = os.environ.get("OPENBLAS_NUM_THREADS", "not set")
    return (
        f"{name}, {os.cpu_count()} cores, load {load:.1f}, OPENBLAS_NUM_THREADS {threads}; "
        f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}"
    )


def ngspice_version() -> str:
    """Name the circuit simulator's version, or say that there is none."""
    program = shutil.which("ngspice")
    if program is None:
        return "no ngspice"
    text = subprocess.run([program, "--version"], capture_output=True, text=True, check=True).stdout
    return re.search(r"ngspice-[\d.]+", text)[0]


def median_seconds(work: Callable[[], object], times: int, warm: int = 1) -> float:
    """Take the median time of some work [s], after some runs that do not count."""
    for _ in range(warm):
        work()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def show(title: str, columns: Sequence[str], rows: Sequence[Sequence[object]], *notes: str) -> None:
    """Print one table, the machine under it."""
    console = Console(width=150)
    table = Table(*columns, title=title, title_justify="left")
    for row in rows:
        table.add_row(*(f"{cell:.4g}" if isinstance(cell, float) else str(cell) for cell in row))
    console.print(table)
    for note in (*notes, machine()):
        console.print(note, markup=False, highlight=False)


def slope(sizes: Sequence[float], seconds: Sequence[float]) -> float:
    """Fit the exponent of a power law: the slope of log seconds against log sizes."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])
