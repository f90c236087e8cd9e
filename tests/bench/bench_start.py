"""A server from its start: until its first advice is there, and what memory it holds once each circuit was asked.

    python -m bench.bench_start [--starts N] [--workers N]      (from tests)

`advisor serve` in a process of its own on a real port, all shipped circuits, their compiled arrays in the cache and the
byte code of all modules on disk, as an installed package has it: a start that is not counted makes it.
Processor time is that of the process with all its threads, from the system's count, which goes by hundredths.  With
workers it is gunicorn's memory that is measured, each worker asked each circuit.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import servers

import advisor

FIRST = "belt-reminder"
CODE = "from advisor.cli import main; from api.serve import serve; main.add_command(serve); main(prog_name='advisor')"
TICKS = os.sysconf("SC_CLK_TCK")
PARTS = {"Rss:": "resident", "Pss:": "proportional", "Anonymous:": "anonymous"}


@dataclass(frozen=True)
class Start:
    """From starting the process to its first advice: processor time and time by the clock [s]."""

    processor: float
    clock: float


@dataclass(frozen=True)
class Memory:
    """What processes hold [MB]: all their pages, shared ones as each one's share, and those that are no file's."""

    resident: float
    proportional: float
    anonymous: float

    def __str__(self) -> str:
        """Give the figures on a line."""
        return f"RSS {self.resident:.0f} MB, PSS {self.proportional:.0f} MB, anonymous {self.anonymous:.0f} MB"


def seconds_used(process: int) -> float:
    """Give the processor time of a process so far [s]: fields 14 and 15 of proc(5), /proc/PID/stat."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def memory(processes: Iterable[int]) -> Memory:
    """Give the memory of some processes together: proc(5), /proc/PID/smaps_rollup."""
    total = dict.fromkeys(PARTS.values(), 0.0)
    for process in processes:
        for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()[1:]:
            name, size, _ = line.split()
            if name in PARTS:
                total[PARTS[name]] += int(size) / 1024.0
    return Memory(**total)


def complaints(circuits: Iterable[str]) -> Mapping[str, str]:
    """Give the first symptom of each circuit; what is read here is in the cache for the server."""
    return {id: next(iter(advisor.load(id).schematic.symptoms)) for id in circuits}


def command(place: str, folder: Path) -> servers.Served:
    """Give the usual command, not started; it is registered by hand where the package is not installed."""
    port = servers.free_port()
    kept = ["env", "-u", "PYTHONDONTWRITEBYTECODE", sys.executable, "-X", f"pycache_prefix={folder / 'code'}"]
    line = [*kept, "-c", CODE, "serve", "--port", str(port), "--rate", "0"]
    return servers.Served(line, place, port, folder / f"server-{port}.log")


def ask(served: servers.Served, circuit: str, symptom: str, **headers: str) -> None:
    """Ask for advice as it is usually asked for, two steps ahead."""
    body = {"circuit": circuit, "findings": [{"symptom": symptom}]}
    status, _, answer = served.ask("POST", "/v1/advice", body, **headers)
    assert status == 200 and json.loads(answer)["circuit"] == circuit, answer


def first_advice(served: servers.Served, symptom: str) -> Start:
    """Start a server, and ask as soon as it takes connections."""
    began = time.monotonic()
    served.start(wait=False)
    assert served.process is not None
    while True:
        try:
            ask(served, FIRST, symptom)
            return Start(seconds_used(served.process.pid), time.monotonic() - began)
        except ConnectionError:
            assert served.process.poll() is None, served.said.read_text()
            time.sleep(0.005)


def starts(folder: Path, count: int) -> list[Start]:
    """Start and stop a server so many times, after once to make byte code."""
    symptom, found = complaints([FIRST])[FIRST], []
    for _ in range(count + 1):
        served = command(str(folder / "cases.sqlite"), folder)
        found.append(first_advice(served, symptom))
        assert served.stop() == 0
    return found[1:]


def held(folder: Path, asked: Mapping[str, str]) -> list[Memory]:
    """Give a server's memory after its first answer, and after it was asked about each of these circuits."""
    served = command(str(folder / "cases.sqlite"), folder)
    first_advice(served, asked[FIRST])
    assert served.process is not None
    found = [memory([served.process.pid])]
    for circuit, symptom in asked.items():
        ask(served, circuit, symptom)
    found.append(memory([served.process.pid]))
    assert served.stop() == 0
    return found


def held_by_workers(folder: Path, asked: Mapping[str, str], workers: int) -> Memory:
    """Give the memory of gunicorn and its workers, each asked about each of these circuits a few times over."""
    place = str(folder / "workers.sqlite")
    bearer = {"Authorization": f"Bearer {servers.a_token(place)}"}
    with servers.gunicorn(place, folder, workers) as served:
        assert served.process is not None
        children = Path(f"/proc/{served.process.pid}/task/{served.process.pid}/children").read_text()
        for circuit, symptom in asked.items():
            for _ in range(3 * workers):  # whichever worker takes it
                ask(served, circuit, symptom, **bearer)
        return memory([served.process.pid, *map(int, children.split())])


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--starts", type=int, default=5)
    parser.add_argument("--workers", type=int, default=0)
    options = parser.parse_args()
    asked = complaints(advisor.shipped_engine().circuits())
    with tempfile.TemporaryDirectory() as folder:
        for start in (found := starts(Path(folder), options.starts)):
            print(f"first advice after {start.processor:.2f} s of processor time, {start.clock:.2f} s by the clock")
        print(f"median {statistics.median(each.processor for each in found):.2f} s of processor time")
        for what, each in zip(("one circuit asked", "all asked"), held(Path(folder), asked), strict=True):
            print(f"{what}: {each}")
        if options.workers:
            print(f"gunicorn, {options.workers} workers: {held_by_workers(Path(folder), asked, options.workers)}")


if __name__ == "__main__":
    main()
