"""One server of the shipped circuits and one browser for all browser tests of a session."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright
from waitress import create_server

from advisor.engine import shipped_engine
from advisor.store.store import Store
from api.app import create_app

# No sandbox, as the check runs as root; nothing that would reach for the network.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
CHROMIUM = os.environ.get("ADVISOR_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"


@pytest.fixture(scope="session")
def site(tmp_path_factory) -> Iterator[str]:
    """Serve the shipped circuits with no cases, as the serving command does, and give the address."""
    store = Store(str(tmp_path_factory.mktemp("site") / "cases.sqlite"))
    store.prepare()
    engine = shipped_engine()
    for name in engine.circuits():
        engine.load(name)  # as the command does, before anybody waits for it
    server = create_server(create_app(engine, store), host="127.0.0.1", port=0, threads=4, ident=None)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    server.task_dispatcher.shutdown()
    thread.join(5)
    store.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Start Debian's Chromium without a window."""
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield made
        made.close()
