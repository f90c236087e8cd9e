"""The command line; a command is one line here, or an entry point of the group advisor.commands."""

from __future__ import annotations

import click

from advisor.cli.group import Commands
from advisor.contract.version import ENGINE_VERSION


@click.group(
    cls=Commands,
    commands_at={
        "advise": "advisor.cli.advise:advise",
        "audit": "advisor.cli.audit:audit",
        "backup": "advisor.cli.store:backup",
        "check": "advisor.cli.check:check",
        "circuits": "advisor.cli.circuits:circuits",
        "draw": "advisor.cli.draw:draw",
        "export": "advisor.cli.export:export",
        "face": "advisor.cli.draw:show_face",
        "orders": "advisor.cli.orders:orders",
        "new": "advisor.cli.new:new",
        "plan": "advisor.cli.plan:plan",
        "refit": "advisor.cli.refit:refit",
        "release": "advisor.cli.release:release",
        "restore": "advisor.cli.store:restore",
        "simulate": "advisor.cli.simulate:simulate",
        "store": "advisor.cli.store:store",
        "token": "advisor.cli.token:token",
    },
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(ENGINE_VERSION, prog_name="advisor")
def main() -> None:
    """Find what is wrong in a vehicle's electrical circuit, and what to measure next."""
