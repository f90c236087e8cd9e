"""The command that serves the JSON API and the pages."""

from __future__ import annotations

import gc
import ipaddress
import os
import socket
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from advisor.errors import SchemaError, StoreError, UsageError

if TYPE_CHECKING:
    from advisor.contract.engine import Engine
    from advisor.store.store import Store
    from api.settings import Settings

EVERYWHERE = ("0.0.0.0", "::", "")
MAKE_ONE = "make one with: advisor token make --role manager --name NAME"


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port", default=8321, show_default=True, type=click.IntRange(0, 65535), help="Port; 0 takes a free one."
)
@click.option("--tokens", is_flag=True, help="Ask for tokens on this machine too; elsewhere they are always asked for.")
@click.option("--name", "names", multiple=True, metavar="HOST", help="Name that the server is called by; may repeat.")
@click.option("--proxy", "proxies", multiple=True, metavar="ADDRESS", help="Proxy that is believed; may repeat.")
@click.option(
    "--rate", default=50.0, show_default=True, help="Requests a second for each token or address; 0: no limit."
)
@click.option(
    "--model",
    "files",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A model file to serve beside the shipped ones; may repeat.",
)
@click.pass_context
def serve(  # noqa: PLR0913 - an argument for each option
    context: click.Context,
    *,
    host: str,
    port: int,
    tokens: bool,
    names: tuple[str, ...],
    proxies: tuple[str, ...],
    rate: float,
    files: tuple[Path, ...],
) -> None:
    """Serve the JSON API and the pages: to this machine, or with tokens to others."""
    # One thread of linear algebra for each request; read when numpy is loaded, which is not before.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.disable()  # nothing of what is loaded now is garbage
    context.call_on_close(gc.enable)
    # Loaded here, so that the other commands start without Flask and the server.
    from api.app import create_app, usual_store  # noqa: PLC0415
    from api.behind import warm_behind  # noqa: PLC0415
    from api.logs import route_libraries, stderr  # noqa: PLC0415
    from api.running import run  # noqa: PLC0415
    from api.settings import LOOPBACK, Settings  # noqa: PLC0415

    store = usual_store()
    needed = tokens or not stays_here(host)
    if needed:
        demand_tokens(host, store)
    hosts = LOOPBACK | {*names} | ({host} if host not in EVERYWHERE else set())
    settings = Settings(needed, hosts, checked(proxies), rate, stderr())
    route_libraries(stderr())
    with _listening(host, port) as listening:
        _try(store.prepare)
        engine = context.obj or _shipped(files)
        app = create_app(engine, store, settings)
        warm_behind(app, engine)
        _told(host, listening, settings)
        _collect_again()
        run(app, listening)
    store.close()


def stays_here(host: str) -> bool:
    """Tell whether an address to listen on is reached from this machine alone."""
    try:
        return ipaddress.ip_address(host) in (ipaddress.ip_address("127.0.0.1"), ipaddress.ip_address("::1"))
    except ValueError:
        return host == "localhost"


def demand_tokens(host: str, store: Store) -> None:
    """Refuse to serve where tokens are needed and there is none; raises UsageError and StoreError."""
    from advisor.store.tokens import Tokens  # noqa: PLC0415 - SQLAlchemy

    if not store.reading(lambda connection: Tokens(connection).is_any(datetime.now(UTC))):
        where = "--tokens asks for" if stays_here(host) else f"{host} can be reached from other machines, which needs"
        raise UsageError(f"{where} access tokens, and no token is in force; {MAKE_ONE}, or listen on 127.0.0.1")


def checked(proxies: tuple[str, ...]) -> tuple[str, ...]:
    """Give the addresses or networks of proxies; raises UsageError."""
    for proxy in proxies:
        try:
            ipaddress.ip_network(proxy)
        except ValueError as error:
            raise UsageError(f"--proxy {proxy}: expected an address such as 10.0.0.5, or a network: {error}") from error
    return proxies


def _collect_again() -> None:
    """Collect garbage from now on, but not look through the code and the tables that were loaded."""
    gc.freeze()
    gc.enable()


def _told(host: str, listening: socket.socket, settings: Settings) -> None:
    from api.settings import LOOPBACK  # noqa: PLC0415 - as above

    shown = f"[{host}]" if ":" in host else host
    click.echo(f"Page and API: http://{shown}:{listening.getsockname()[1]}/  (stop with Ctrl+C)")
    if host in EVERYWHERE and settings.hosts == LOOPBACK:
        click.echo("it answers for localhost alone until --name says what others call it", err=True)
    if not stays_here(host) and not settings.proxies:
        click.echo("without TLS whoever is on the way reads along; put a proxy before it: README, Running it", err=True)


def _listening(host: str, port: int) -> socket.socket:
    try:
        return socket.create_server((host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET)
    except OSError as error:
        raise click.ClickException(f"cannot listen on {host}, port {port}: {error.strerror}; try --port 0") from error


def _shipped(files: Sequence[Path]) -> Engine:
    from advisor import shipped_engine  # noqa: PLC0415 - the whole domain

    return shipped_engine(files=files)


def _try(prepare: Callable[[], None]) -> None:
    """Stop where the store is of another release; one that does not answer yet is told and may come later."""
    try:
        prepare()
    except SchemaError:
        raise
    except StoreError as error:
        click.echo(f"cases cannot be kept now: {error}", err=True)
