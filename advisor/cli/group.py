"""The group of commands: loaded when named, errors in one place, only JSON on stdout with --json."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from importlib import import_module
from importlib.metadata import EntryPoint, entry_points
from typing import Any

import click

from advisor.errors import AdvisorError

ENTRY_POINTS = "advisor.commands"
BAD_REQUEST = 2
INTERNAL = 3


class Commands(click.Group):
    """Commands by the address of their object (module:name), and those that other packages register."""

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - click's own arguments
        commands_at: Mapping[str, str],
        **kwargs: Any,  # noqa: ANN401 - click's own arguments
    ) -> None:
        super().__init__(*args, **kwargs)
        self.commands_at = dict(commands_at)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Give the names of all commands."""
        return sorted({*super().list_commands(ctx), *self.commands_at, *_registered()})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load a command; None when there is none of this name."""
        if cmd_name in self.commands_at:
            module, _, name = self.commands_at[cmd_name].partition(":")
            return _command(getattr(import_module(module), name))
        registered = _registered().get(cmd_name)
        return _command(registered.load()) if registered else super().get_command(ctx, cmd_name)

    def main(
        self,
        args: Sequence[str] | None = None,
        *others: Any,  # noqa: ANN401 - click's own arguments
        **extra: Any,  # noqa: ANN401 - click's own arguments
    ) -> Any:  # noqa: ANN401 - click's own result
        """Run a command and end the process: 0 ok, 1 findings of a check, 2 bad request or usage, 3 a defect."""
        sent = list(sys.argv[1:] if args is None else args)
        extra["standalone_mode"] = False
        try:
            result = super().main(sent, *others, **extra)
        except click.Abort:
            click.echo("stopped", err=True)
            sys.exit(1)
        except (click.ClickException, AdvisorError) as error:
            _tell(error, as_json="--json" in sent)
            sys.exit(BAD_REQUEST)
        except Exception as error:  # no traceback reaches a user
            _tell_defect(error, as_json="--json" in sent)
            sys.exit(INTERNAL)
        sys.exit(result if isinstance(result, int) else 0)


def _registered() -> dict[str, EntryPoint]:
    return {point.name: point for point in entry_points(group=ENTRY_POINTS)}


def _command(found: object) -> click.Command:
    if not isinstance(found, click.Command):
        raise TypeError(f"{found!r} is registered as a command and is none")
    return found


def _tell(error: click.ClickException | AdvisorError, *, as_json: bool) -> None:
    if as_json:
        from advisor.contract.problem import problem, problem_of  # noqa: PLC0415 - only for programs

        usage = error.format_message() if isinstance(error, click.ClickException) else None
        told = problem_of(error) if isinstance(error, AdvisorError) else problem("bad-request", usage)
        click.echo(told.model_dump_json())
    elif isinstance(error, click.ClickException):
        error.show()
    else:
        click.echo(_printable(str(error)), err=True)


def _tell_defect(error: Exception, *, as_json: bool) -> None:
    if as_json:
        from advisor.contract.problem import problem  # noqa: PLC0415 - only for programs

        click.echo(problem("internal-error").model_dump_json())
    click.echo(
        f"a defect of this program, please report it: {type(error).__name__}: {_printable(str(error))}", err=True
    )


def _printable(text: str) -> str:
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
