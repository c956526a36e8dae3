"""bouncesim match --write: a copy of a scenario file with a match in it, read again before it is trusted."""

from __future__ import annotations

import tomllib
from pathlib import Path

import click

from bouncesim import exact, perform
from bouncesim.account.whole import write_files
from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.matching.networks import Match, Matches
from bouncesim.scenario import Scenario, Tuner, read_scenario
from bouncesim.scenario.model import flat_parts
from bouncesim.scenario.reader import read_tables
from bouncesim.scenario.rewrite import with_part

NEAR = 1e-6  # of the reflection that nine digits of a value leave, at a loaded Q of up to a thousand


def write_match(source: Path, matches: Matches, number: int | None, target: Path) -> str:
    """Write the match with this number (None: the best at hand) and say which it is. UsageError for one that cannot be had,
    ScenarioError where the file cannot be edited safely, or would not be this station any more; then nothing is written."""
    match = _chosen(matches, number)
    text = source.read_text(encoding="utf-8-sig")
    parts = [part.model_copy(update={"is_tuner": True}) if part.part == "network" else part for part in match.candidate.parts]
    place = None if matches.is_added else _place(source, matches.tuner)
    new = with_part(text, place, parts, matches.tuner.coil_q, matches.tuner.capacitor_q)
    _try(source, new, match)
    write_files(target.parent, {target.name: lambda file: file.write(new.encode("utf-8"))})
    return f"{match.candidate.kind}, {match.candidate.told}"


def _chosen(matches: Matches, number: int | None) -> Match:
    if number is not None and number > len(matches.matches):
        raise click.UsageError(f"--take {number}: there are {len(matches.matches)} networks.")
    match = matches.best if number is None else matches.matches[number - 1]
    if match is None:
        raise click.UsageError("Nothing that matches is at hand: say which network to write with --take.")
    if match.candidate.obstacle:
        raise click.UsageError(f"--take {number}: that one cannot be had: {match.candidate.obstacle}.")
    if match.candidate.kind == "nothing":
        raise click.UsageError("Nothing is left to match, so there is nothing to write.")
    return match


def _place(source: Path, tuner: Tuner) -> int:
    """Which [[path]] of the file the tuner is."""
    return next(k for k, part in enumerate(read_scenario(source).path) if part.name == tuner.name)


def _try(source: Path, text: str, match: Match) -> None:
    """Read the new text as if it stood where the old one does, beside the files that it names. ScenarioError if it is not this station."""
    try:
        loaded = read_tables(tomllib.loads(text), source.parent)
    except ScenarioError as error:
        reason = "what the file says elsewhere does not go with this network: " + "; ".join(str(problem) for problem in error.problems)
        raise ScenarioError(Problem("path", reason.rstrip("."), "Take another network, or change that first")) from error
    if _names(loaded) != _names(match.scenario) and not any(isinstance(part, Tuner) for part in loaded.path):
        raise ScenarioError(Problem("path", "the edited file would not be this station", "Write the parts into a copy yourself"))
    plain = loaded.model_copy(update={"direction": "transmit", "receiver": None, "events": ()})
    z = [exact.solve(perform.resolve(each)).transmitter.impedance_ohm for each in (plain, match.scenario)]
    if not abs(z[0] - z[1]) <= NEAR * abs(z[1]):
        raise ScenarioError(Problem("path", "the edited file would not be this match", "Write the parts into a copy yourself"))


def _names(scenario: Scenario) -> list[str]:
    return [part.name for part in flat_parts(scenario.path)]
