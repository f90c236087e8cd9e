"""Settings of gunicorn for a bigger site, behind a proxy: gunicorn -c python:api.site ..."""

from __future__ import annotations

import os
import shutil
import tempfile

# One thread of linear algebra for each request, and one place where all workers count; both are read at import.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
_COUNTS = tempfile.mkdtemp(prefix="advisor-counts-")
os.environ["PROMETHEUS_MULTIPROC_DIR"] = _COUNTS

worker_class = "gthread"
workers = os.cpu_count() or 1
threads = 4
graceful_timeout = 30
timeout = 120
# It would be a file in the home folder, through which the server takes commands.
control_socket_disable = True


def post_worker_init(worker: object) -> None:
    """Let each worker load behind its answers what nobody has asked it for."""
    from api.behind import ENGINE, warm_behind  # noqa: PLC0415 - gunicorn reads this file before it forks

    app = worker.wsgi  # type: ignore[attr-defined] # gunicorn types nothing
    warm_behind(app, app.extensions[ENGINE])


def child_exit(_server: object, worker: object) -> None:
    """Let a worker that has ended be counted no more among the living."""
    from prometheus_client.multiprocess import mark_process_dead  # noqa: PLC0415 - reads the folder named above

    mark_process_dead(worker.pid)  # type: ignore[attr-defined,no-untyped-call] # gunicorn and the library type neither


def on_exit(_server: object) -> None:
    """Take the counts away."""
    shutil.rmtree(_COUNTS, ignore_errors=True)
