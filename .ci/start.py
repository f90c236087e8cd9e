"""Set up the advisor, print advice on a shipped circuit, then leave page and API up on 127.0.0.1.

    python3 .ci/start.py [--port PORT] [--once]

Needs Python 3.11 or newer and nothing else; the second run starts at once.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - an older Python reads this line, and this line alone says why it stops
    sys.exit(f"error: the advisor needs Python 3.11 or newer, and this is {sys.version.split()[0]}")

import argparse
import signal
import socket
import subprocess
from pathlib import Path

import environment

ADDRESS = "127.0.0.1"
EXAMPLE = ("advise", "belt-reminder", "--symptom", "lamp-stays-dark")


def main() -> int:
    """Run the command and give its exit code."""
    parser = argparse.ArgumentParser(description="Set up the advisor, print an example, serve page and API.")
    parser.add_argument("--port", type=int, default=8321, help="first port to try (default: 8321)")
    parser.add_argument("--once", action="store_true", help="stop after the printed example")
    options = parser.parse_args()
    if not 1 <= options.port <= 65535:
        parser.error(f"--port must be 1 to 65535, not {options.port}")
    try:
        advisor = environment.script(environment.prepare("start"), "advisor")
        print(f"\n$ advisor {' '.join(EXAMPLE)}", flush=True)
        code = subprocess.run([str(advisor), *EXAMPLE], cwd=environment.CHECKOUT, check=False).returncode
        if code or options.once:
            return code
        return serve(advisor, free_port(options.port))
    except environment.SetupError as error:
        print(f"error: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nstopped", flush=True)
        return 130


def free_port(first: int) -> int:
    """Give the first free port from this one on, saying so when it is another.

    Raises:
        SetupError: None of the next fifty ports is free.
    """
    for port in range(first, min(first + 50, 65536)):
        with socket.socket() as probe:
            if sys.platform != "win32":  # there, the option would let two servers share a port
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((ADDRESS, port))
            except OSError:
                continue
        if port != first:
            print(f"port {first} is in use; taking {port}", flush=True)
        return port
    raise environment.SetupError(f"no free port from {first} on; name another with --port")


def serve(advisor: Path, port: int) -> int:
    """Serve until Ctrl-C or a termination signal, and give the server's exit code, 0 for a wanted stop."""
    print(f"\nstarting page and API on http://{ADDRESS}:{port}/ (Ctrl-C stops)", flush=True)
    server = subprocess.Popen([str(advisor), "serve", "--host", ADDRESS, "--port", str(port)], cwd=environment.CHECKOUT)
    signal.signal(signal.SIGTERM, lambda *_: server.terminate())
    try:
        code = server.wait()
    except KeyboardInterrupt:
        # The terminal sends Ctrl-C to the server too; it only needs time to finish.
        server.terminate()
        server.wait()
        code = 0
    return 0 if code == -signal.SIGTERM else code


if __name__ == "__main__":
    sys.exit(main())
