"""bouncesim new: a commented scenario to start from."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("new")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
def command(file: Path) -> None:
    """Write a commented scenario to start from.

    FILE is the new scenario's name, such as my-station.toml. A file that exists is left alone.
    """
    from importlib.resources import files

    from bouncesim.account.store import write_files

    if file.exists():
        raise click.UsageError(f"{file} exists already, and is left as it is. Choose another name.")
    starter = (files("bouncesim.scenario") / "starter.toml").read_bytes()
    write_files(file.parent, {file.name: lambda target: target.write(starter)})
    click.echo(f"Wrote {file}. Change it, then: bouncesim run {file}", err=True)
