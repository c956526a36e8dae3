"""What can go wrong, said so that a user can mend it. Exit codes live in cli, not here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One mistake in a scenario: its place, what was found there, and how to put it right."""

    field: str  # the place, as a user would point at it: "path[2].length"
    reason: str  # what was found and why it will not do
    remedy: str  # what is allowed, with the nearest right spelling where there is one

    def __str__(self) -> str:
        return f"{self.field}: {self.reason}. {self.remedy}" if self.remedy else f"{self.field}: {self.reason}."


class BouncesimError(Exception):
    """Any error whose message is meant for the user."""


class ScenarioError(BouncesimError):
    """The scenario is at fault; carries every problem that was found, not only the first."""

    def __init__(self, problems: Sequence[Problem] | Problem) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


class OptionError(BouncesimError):
    """What was asked for cannot be made, and nothing was begun: an odd size, an unknown kind of file."""


class TooMuchWork(OptionError):
    """It would take more time, memory or disk than is allowed (bouncesim.budget); the message says how to allow more."""


class NotSettled(BouncesimError):
    """The run ended before its steady state was reached; the message says what to change."""


class Diverged(BouncesimError):
    """The run lost its energy balance, or a value overflowed: no figure of it can be trusted."""


class OutputError(BouncesimError):
    """A result could not be written; nothing half-written was left behind."""
