"""The command that serves the JSON API and the pages."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable, Sequence
from pathlib import Path

import click

from advisor.contract.engine import Engine
from advisor.errors import AdvisorError, SchemaError, StoreError


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Loopback address to listen on.")
@click.option(
    "--port", default=8321, show_default=True, type=click.IntRange(0, 65535), help="Port; 0 takes a free one."
)
@click.option(
    "--model",
    "files",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A model file to serve beside the shipped ones; may be given several times.",
)
@click.pass_context
def serve(context: click.Context, host: str, port: int, files: tuple[Path, ...]) -> None:
    """Serve the JSON API and the pages on this machine."""
    if not _stays_here(host):
        raise click.UsageError(
            f"{host} can be reached from other machines, and that needs access tokens, which are not built yet. "
            "Use 127.0.0.1, ::1 or localhost."
        )
    # Loaded here, so that the other commands start without Flask and the server.
    from waitress import create_server  # noqa: PLC0415

    from api.app import create_app, usual_store  # noqa: PLC0415

    with _listening(host, port) as listening:
        store = usual_store()
        _try(store.prepare)
        engine = context.obj or _shipped(files)
        for name in engine.circuits():
            _warm(engine, name)
        server = create_server(create_app(engine, store), sockets=[listening], threads=4, ident=None)
        shown = f"[{host}]" if ":" in host else host
        click.echo(f"Page and API: http://{shown}:{listening.getsockname()[1]}/  (stop with Ctrl+C)")
        server.run()


def _listening(host: str, port: int) -> socket.socket:
    try:
        return socket.create_server((host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET)
    except OSError as error:
        raise click.ClickException(f"cannot listen on {host}, port {port}: {error.strerror}; try --port 0") from error


def _shipped(files: Sequence[Path]) -> Engine:
    from advisor import shipped_engine  # noqa: PLC0415 - the whole domain

    return shipped_engine(files=files)


def _stays_here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host) in (ipaddress.ip_address("127.0.0.1"), ipaddress.ip_address("::1"))
    except ValueError:
        return host == "localhost"


def _try(prepare: Callable[[], None]) -> None:
    """Stop where the store is of another release; one that does not answer yet is told and may come later."""
    try:
        prepare()
    except SchemaError:
        raise
    except StoreError as error:
        click.echo(f"cases cannot be kept now: {error}", err=True)


def _warm(engine: Engine, name: str) -> None:
    """Load a circuit before the first caller waits for it; one broken circuit does not stop the others."""
    try:
        engine.load(name)
    except AdvisorError as error:
        click.echo(f"circuit {name} cannot be served: {error}", err=True)
