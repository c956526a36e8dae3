"""The argument SCENARIO: a path, or the name of a lesson."""

from __future__ import annotations

from pathlib import Path

import click

FOLDER = Path("scenarios")


def folders() -> list[Path]:
    """Where lessons are looked up by name: ./scenarios, those of a copy of the repository, those that came with the package."""
    above = Path(__file__).resolve().parents[2:]
    # Wherever a package was put (an environment, a user's own folder, pip's --target or --prefix), its data lie in a `share` on the way up.
    places = [above[0] / "scenarios", *(place / "share" / "bouncesim" / "scenarios" for place in above)]
    return [FOLDER, *(place for place in places if place.is_dir())]


def find_scenario(ctx: click.Context, param: click.Parameter, value: str) -> Path:
    """The file that `value` means: its path, or the bare name of a lesson. Raises click.BadParameter with the nearest names."""
    path = Path(value)
    named = [folder / f"{value.removesuffix('.toml')}.toml" for folder in folders()] if path.name == value else []
    try:
        for candidate in (path, *named):
            if candidate.is_file():
                return candidate
        reason = f"{path} is a folder" if path.is_dir() else f"there is no file {path}"
    except OSError as error:
        raise click.BadParameter(f"{path}: {error.strerror}") from error
    raise click.BadParameter(f"{reason}. {_instead(path)}")


def _instead(path: Path) -> str:
    """What there is, nearest first: files by their path, lessons elsewhere by their name."""
    import difflib

    here = [*path.parent.glob("*.toml"), *FOLDER.glob("*.toml")]
    places = {place.stem: place.stem for folder in reversed(folders()) for place in folder.glob("*.toml")}
    places |= {place.stem: str(place) for place in here}
    near = difflib.get_close_matches(path.name.removesuffix(".toml"), list(places), n=3, cutoff=0.5)
    if near:
        return "Nearest: " + ", ".join(places[stem] for stem in near)
    ours = ", ".join(str(place) for place in sorted((path if path.is_dir() else FOLDER).glob("*.toml")))
    return f"There are: {ours}" if ours else "Write a first scenario with: bouncesim new FILE"


scenario_argument = click.argument("scenario", metavar="SCENARIO", callback=find_scenario)
