"""The command `bouncesim`, and the one place where an outcome becomes an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress

import click

from bouncesim import __version__
from bouncesim.cli import (
    bands,
    chart,
    check,
    claims,
    film,
    lines,
    match,
    new,
    open_wire,
    report,
    rules,
    run,
    schema,
    survey,
    swr_limit,
    which_cable,
)

GOOD, FAILED, AT_FAULT, NO_RESULT, NOT_WRITTEN = range(5)
INTERRUPTED, PIPE_CLOSED = 130, 141  # 128 + signal number, as shells have it

EXIT_CODES = f"""\b
Exit codes:
  {GOOD}  good
  {FAILED}  a check or a claim fails
  {AT_FAULT}  the command line or the scenario is at fault
  {NO_RESULT}  the station does not settle, or the simulation diverges
  {NOT_WRITTEN}  the results cannot be written"""


@click.group(
    help="Waves on a radio feed line, from key-down to steady state, with every watt accounted for.",
    epilog=EXIT_CODES,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="bouncesim")
def commands() -> None:
    """All commands."""


for command in (
    film.command,
    chart.command,
    run.command,
    check.command,
    claims.command,
    rules.command,
    match.command,
    lines.command,
    survey.command,
    bands.command,
    open_wire.command,
    which_cable.command,
    swr_limit.command,
    new.command,
    report.command,
    schema.command,
):
    commands.add_command(command)


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
        error.show()
        return AT_FAULT
    if isinstance(error, KeyboardInterrupt | click.Abort):
        click.echo("\nStopped. Nothing half-written is left behind.", err=True)
        return INTERRUPTED
    return _code_of_ours(error)


def _code_of_ours(error: BaseException) -> int | None:
    from bouncesim.errors import BouncesimError, Diverged, NotSettled, OutputError

    if not isinstance(error, BouncesimError | OSError):
        return None
    from bouncesim.cli.text import clean

    message = f"{error.filename or 'output'}: {error.strerror}" if isinstance(error, OSError) else str(error)
    for line in message.splitlines():
        click.echo(clean(f"Error: {line}"), err=True)
    if isinstance(error, OutputError | OSError):
        return NOT_WRITTEN
    return NO_RESULT if isinstance(error, NotSettled | Diverged) else AT_FAULT
