"""The argument SCENARIO: a path, or the name of a file of the folder scenarios."""

from __future__ import annotations

from pathlib import Path

import click

FOLDER = Path("scenarios")


def find_scenario(ctx: click.Context, param: click.Parameter, value: str) -> Path:
    """The file that `value` means: its path, or its bare name in ./scenarios. Raises click.BadParameter with the nearest names."""
    path = Path(value)
    named = [FOLDER / f"{value.removesuffix('.toml')}.toml"] if path.name == value else []
    try:
        for candidate in (path, *named):
            if candidate.is_file():
                return candidate
        reason = f"{path} is a folder" if path.is_dir() else f"there is no file {path}"
    except OSError as error:
        raise click.BadParameter(f"{path}: {error.strerror}") from error
    raise click.BadParameter(f"{reason}. {_instead(path)}")


def _instead(path: Path) -> str:
    """What there is, nearest first."""
    import difflib

    places = {place.stem: place for place in (*path.parent.glob("*.toml"), *FOLDER.glob("*.toml"))}
    near = difflib.get_close_matches(path.name.removesuffix(".toml"), list(places), n=3, cutoff=0.5)
    if near:
        return "Nearest: " + ", ".join(str(places[stem]) for stem in near)
    ours = ", ".join(str(place) for place in sorted((path if path.is_dir() else FOLDER).glob("*.toml")))
    return f"There are: {ours}" if ours else "Write a first scenario with: bouncesim new FILE"


scenario_argument = click.argument("scenario", metavar="SCENARIO", callback=find_scenario)
