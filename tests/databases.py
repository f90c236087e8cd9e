"""Places for cases in tests: an SQLite file, and a database of a PostgreSQL server that the tests start themselves."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import psycopg
import pytest

from advisor.store.store import Store

KINDS = ("sqlite", "postgresql")
# Where Debian keeps the server's programs; elsewhere they are on the path.
PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
ACCOUNT = "postgres"  # initdb refuses to run as root


def programs() -> str:
    """Give the folder of the server's programs, or fail with what to install."""
    found = shutil.which("initdb", path=os.pathsep.join([*map(str, reversed(PROGRAMS)), os.environ.get("PATH", "")]))
    assert found, "PostgreSQL's server is missing; on Debian: apt-get install postgresql"
    return str(Path(found).parent)


@dataclass
class Server:
    """A PostgreSQL server of its own, reached by a socket in its folder; `durable` writes through to the disk."""

    durable: bool = False
    folder: Path = field(init=False)
    made: int = 0

    def start(self) -> Server:
        """Make the cluster and start it."""
        # Not pytest's own folder, whose mode keeps the server's account out.
        self.folder = Path(tempfile.mkdtemp(prefix="pg-"))
        if os.geteuid() == 0:
            shutil.chown(self.folder, ACCOUNT)
        self._run("initdb", "-D", "data", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        self.resume()
        return self

    def resume(self) -> None:
        """Start the server on its cluster."""
        settings = f"-k {self.folder} -c listen_addresses='' -c fsync={'on' if self.durable else 'off'}"
        self._run("pg_ctl", "-D", "data", "-w", "-s", "-l", "log", "-o", settings, "start")

    def pause(self) -> None:
        """Stop the server; the cluster stays."""
        self._run("pg_ctl", "-D", "data", "-m", "fast", "-w", "-s", "stop")

    def stop(self) -> None:
        """Stop the server and take its folder away."""
        self.pause()
        shutil.rmtree(self.folder)

    def url(self, database: str) -> str:
        """Give the address of a database as ADVISOR_STORE takes it."""
        return f"postgresql://postgres@/{database}?host={self.folder}"

    def database(self, template: str = "template0") -> str:
        """Make a database and give its address."""
        self.made += 1
        name = f"cases_{self.made}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy")
        return self.url(name)

    def sql(self, statement: str) -> None:
        """Run a statement as the server's owner."""
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)

    def _run(self, program: str, *arguments: str) -> None:
        owner = {}
        if os.geteuid() == 0:
            owner = {"user": ACCOUNT, "group": pwd.getpwnam(ACCOUNT).pw_gid, "extra_groups": []}
        subprocess.run(
            [f"{programs()}/{program}", *arguments],
            cwd=self.folder,
            env={"PATH": f"{programs()}:/usr/bin:/bin", "LC_ALL": "C", "HOME": str(self.folder)},
            check=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            **owner,
        )


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """Give a running server, with a template database that has the tables."""
    running = Server().start()
    try:
        running.sql("CREATE DATABASE template_cases")
        ready = Store(running.url("template_cases"))
        ready.upgrade()
        ready.close()
        yield running
    finally:
        running.stop()


@pytest.fixture(params=KINDS)
def place(request, tmp_path) -> str:
    """Give a place for cases in either database, with its tables or about to get them."""
    if request.param == "sqlite":
        return str(tmp_path / "data" / "cases.sqlite")
    return request.getfixturevalue("server").database("template_cases")


@pytest.fixture
def store(place) -> Iterator[Store]:
    """Give a store in either database."""
    opened = Store(place)
    yield opened
    opened.close()
