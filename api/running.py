"""The server of one process: it answers slow and quick clients side by side, and stops once it has answered."""

from __future__ import annotations

import signal
import socket
import threading
import time
from typing import Any

from flask import Flask
from waitress import create_server

THREADS = 8
CONNECTIONS = 1000
PATIENCE = 30.0
"""How long a stop waits for requests that are being answered [s]."""
POLL = 0.05


def run(app: Flask, listening: socket.socket, *, patience: float = PATIENCE) -> None:
    """Serve until told to stop by a signal, then finish what has been asked."""
    server = create_server(
        app,
        sockets=[listening],
        threads=THREADS,
        connection_limit=CONNECTIONS,
        ident=None,
        clear_untrusted_proxy_headers=False,  # the application does it, whatever serves it
    )
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, _stop)
    loop = server.asyncore.loop
    try:
        loop(timeout=1, map=server._map)
    except (SystemExit, KeyboardInterrupt):
        _finish(server, time.monotonic() + patience)
    finally:
        server.task_dispatcher.shutdown()
        server.close()


def _stop(_number: int, _frame: object) -> None:
    raise SystemExit(0)


def _finish(server: Any, end: float) -> None:  # noqa: ANN401 # Any: the server ships no types
    """Take no more connections, and go on until each that has asked has its answer."""
    server.del_channel()
    server.socket.close()
    while _is_busy(server) and time.monotonic() < end:
        server.asyncore.loop(timeout=POLL, map=server._map, count=1)


def _is_busy(server: Any) -> bool:  # noqa: ANN401 # Any: the server ships no types
    channels = list(server.active_channels.values())
    return any(channel.requests or channel.total_outbufs_len for channel in channels)
