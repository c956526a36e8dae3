"""The command `bouncesim`, and the one place where an outcome becomes an exit code."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import TYPE_CHECKING

import click

from bouncesim import __version__
from bouncesim.cli.stopping import is_stopping, stopped

if TYPE_CHECKING:
    from pydantic import ValidationError

    from bouncesim.errors import BouncesimError

GOOD, FAILED, AT_FAULT, NO_RESULT, NOT_WRITTEN = range(5)
PIPE_CLOSED = 141  # 128 + signal number, as shells have it

EXIT_CODES = f"""\b
Exit codes:
  {GOOD}  good
  {FAILED}  a check or a claim fails
  {AT_FAULT}  the command line or the scenario is at fault
  {NO_RESULT}  the station does not settle, or the simulation diverges
  {NOT_WRITTEN}  the results cannot be written"""


# The commands, each in a module of its own, and the first paragraph of its help. A module is loaded when its command is called: all of them
# together would cost help half of its time.
COMMANDS = {
    "film": "Film a station: simulate, check, print the account, film it.",
    "chart": "Draw charts of a station: all of them, or those that are named.",
    "run": "Simulate a station, print its account and save it.",
    "check": "Check a station against its closed form, reading by reading.",
    "claims": "Judge what scenarios claim, with an error bar.",
    "rules": "Hold published rules of thumb against the exact answer.",
    "match": "Show every network that would match a station.",
    "demonstrate": "Prepare a live demonstration with a station.",
    "explain": "Say what forward and reflected readings mean.",
    "lines": "Compare types of line, or show where the figures of one come from.",
    "survey": "Solve every combination of the ranges in [survey], and put all of them into one table.",
    "bands": "Tell how one antenna does on many bands, with a tuner.",
    "open-wire": "Hold coax against open-wire line for the same job.",
    "which-cable": "Tell which cable to take for a run: what each type would lose.",
    "swr-limit": "Tell how high an SWR a line allows for at most so much loss.",
    "new": "Write a commented scenario to start from.",
    "report": "Report on a station: one page with everything, to publish beside a film.",
    "schema": "Print the JSON schema of a scenario file.",
}


class Commands(click.Group):
    """The commands of `COMMANDS`."""

    def list_commands(self, ctx: click.Context | None) -> list[str]:
        """In the order of the alphabet."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context | None, name: str) -> click.Command | None:
        """One command, loaded; None if there is none of this name."""
        if name not in COMMANDS:
            return None
        found: click.Command = import_module(f"bouncesim.cli.{name.replace('-', '_')}").command
        return found

    def resolve_command(self, ctx: click.Context, args: list[str]) -> tuple[str | None, click.Command | None, list[str]]:
        """A wrong name is answered with the nearest one."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            import difflib

            near = difflib.get_close_matches(name, COMMANDS, n=1, cutoff=0.5)
            ctx.fail(f"No such command '{name}'." + (f" Did you mean '{near[0]}'?" if near else ""))
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of the commands in the help."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, COMMANDS[name]) for name in self.list_commands(ctx)])


@click.group(
    cls=Commands,
    help="Waves on a radio feed line, from key-down to steady state, with every watt accounted for.",
    epilog=EXIT_CODES,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="bouncesim")
def commands() -> None:
    """All commands."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit code. A command returns False when a check or a claim of it fails."""
    sys.stdout = sys.stdout or open(os.devnull, "w")  # noqa: SIM115 (started with the stream closed: open as long as the process lives)
    sys.stderr = sys.stderr or sys.stdout
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]  # a terminal without the letter shows a question mark
    try:
        try:
            with commands.make_context("bouncesim", list(sys.argv[1:] if arguments is None else arguments)) as context:
                succeeded = commands.invoke(context)
        finally:
            sys.stdout.flush()
    except BaseException as error:
        code = _code_of(error)
        if code is None:
            raise
        return code
    return FAILED if succeeded is False else GOOD


def _code_of(error: BaseException) -> int | None:
    """Tell the user what went wrong. Returns the exit code, or None for an error of our own making, which deserves its traceback."""
    if isinstance(error, click.exceptions.Exit):
        return error.exit_code
    if isinstance(error, BrokenPipeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nobody listens: let the last flush go nowhere
        return PIPE_CLOSED
    if isinstance(error, click.UsageError):
        from bouncesim.cli.text import clean

        told = io.StringIO()
        error.show(told)
        click.echo("\n".join(map(clean, told.getvalue().split("\n"))), err=True, nl=False)  # what was typed stands in it
        return AT_FAULT
    if isinstance(error, KeyboardInterrupt | click.Abort) or is_stopping():
        return stopped()
    return _code_of_ours(error)


def beyond_any_station(error: ValidationError) -> BouncesimError:
    """An error of values that are allowed one by one and lead to some part that is not, in words. No place is known where that happens,
    and tests/strangers takes each for a defect, but a user is not to see one of Python's."""
    from bouncesim.errors import BouncesimError

    told = error.errors()[0]["msg"].removeprefix("Value error, ")
    return BouncesimError(f"These values lead to something that no station has: {told}")


def _code_of_ours(error: BaseException) -> int | None:
    from pydantic import ValidationError

    from bouncesim.errors import BouncesimError, Diverged, NotSettled, OutputError

    if isinstance(error, ValidationError):
        error = beyond_any_station(error)
    if isinstance(error, MemoryError):
        error = BouncesimError("This takes more memory than there is.")
    if not isinstance(error, BouncesimError | OSError):
        return None
    from bouncesim.cli.text import clean

    message = f"{error.filename or 'output'}: {error.strerror}" if isinstance(error, OSError) else str(error)
    for line in message.splitlines():
        click.echo(clean(f"Error: {line}"), err=True)
    if isinstance(error, OutputError | OSError):
        return NOT_WRITTEN
    return NO_RESULT if isinstance(error, NotSettled | Diverged) else AT_FAULT
