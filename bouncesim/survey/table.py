"""The results of a survey in one table: what was varied, what became of it, and every reading; as CSV and as npz."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from bouncesim.account import made
from bouncesim.account.whole import write_files
from bouncesim.scenario import Scenario
from bouncesim.scenario.bands import band_of
from bouncesim.survey.path import OUTCOMES
from bouncesim.survey.stations import Stations
from bouncesim.survey.transient import OUTCOME
from bouncesim.survey.tuners import NAMES
from bouncesim.version import __version__

Column = NDArray[Any]
FILES = ("survey.csv", "survey.npz", "survey.json")
ROWS_AT_ONCE = 4096


@dataclass(frozen=True)
class Table:
    """Columns of numbers (nan: nothing to tell) and of words, (n,) each, in order; and the scenario that they come from."""

    scenario_json: str
    title: str
    columns: dict[str, Column]

    @property
    def count(self) -> int:
        """Rows."""
        return len(next(iter(self.columns.values())))

    @property
    def made_with(self) -> str:
        """Program and scenario, on one line; not the time, so that the same survey gives the same bytes."""
        return f"bouncesim {__version__}, scenario sha256 {hashlib.sha256(self.scenario_json.encode()).hexdigest()[: made.SHORT]}"

    def outcomes(self) -> dict[str, int]:
        """How many stations became what."""
        found: dict[str, int] = {}
        for name in ("outcome", OUTCOME):
            if name in self.columns:
                words, counts = np.unique(self.columns[name], return_counts=True)
                told = "" if name == "outcome" else "in time: "
                found |= {f"{told}{word}": int(count) for word, count in zip(words, counts, strict=True) if word}
        return found

    def save(self, folder: Path, how: dict[str, Any]) -> Path:
        """Write survey.csv, survey.npz and survey.json into `folder`; `how` goes into the last. Raises OutputError.

        The first two depend on nothing but the scenario and the program: the same survey gives the same bytes.
        """
        about = {"title": self.title, "stations": self.count, "outcomes": self.outcomes(), **how}
        about |= {"made": made.stamp(Scenario.from_json(self.scenario_json))}
        text = json.dumps(about, indent=1, ensure_ascii=False) + "\n"
        writers = {"survey.csv": self._csv, "survey.npz": self._npz, "survey.json": lambda file: file.write(text.encode("utf-8"))}
        write_files(folder, writers)
        return folder

    def _npz(self, file: BinaryIO) -> None:
        arrays: dict[str, Any] = {**self.columns, "scenario": np.array(self.scenario_json), "made_with": np.array(self.made_with)}
        np.savez(file, **arrays)

    def _csv(self, file: BinaryIO) -> None:
        text = io.TextIOWrapper(file, encoding="utf-8", newline="")
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow([*self.columns, "made_with"])
        for rows in self._rows():
            writer.writerows((*row, self.made_with) for row in rows)
        text.flush()
        text.detach()

    def _rows(self) -> Iterator[list[tuple[Any, ...]]]:
        """Rows as a spreadsheet takes them, some thousands at a time: an empty cell where there is nothing to tell."""
        for first in range(0, self.count, ROWS_AT_ONCE):
            cells = [_cells(column[first : first + ROWS_AT_ONCE]) for column in self.columns.values()]
            yield list(zip(*cells, strict=True))


def _cells(column: Column) -> list[Any]:
    values = column.tolist()
    return ["" if value != value else value for value in values]


def table_of(stations: Stations, solved: dict[str, NDArray[np.float64]]) -> Table:
    """The table of a survey, from what was found of every station: codes become words."""
    columns = inputs(stations, 0, stations.count)
    for name, values in solved.items():
        words = OUTCOMES if name in ("outcome", OUTCOME) else NAMES if name.rpartition(".")[2] in ("part_1", "part_2", "part_3") else None
        columns[name] = values if words is None else _words(words, values)
    scenario = stations.base.model_copy(update={"survey": stations.survey})
    return Table(scenario.to_json(), scenario.title, columns)


def _words(words: tuple[str, ...], codes: NDArray[np.float64]) -> Column:
    known = np.isfinite(codes)
    return np.where(known, np.array(words)[np.where(known, codes, 0).astype(int)], "")


def inputs(stations: Stations, first: int, count: int) -> dict[str, Column]:
    """What was varied, station by station."""
    f, kind, length, load, tuner, power = stations.indices(first, count)
    region, base = stations.survey.region, stations.base
    line = next(line for line in base.lines if line.name == stations.line)
    found: dict[str, Column] = {
        "station": np.arange(first + 1, first + count + 1),
        "band": np.array([band_of(hz, region) for hz in stations.frequencies])[f],
        "frequency_hz": np.array(stations.frequencies)[f],
        "line_type": np.array([one or line.type or "" for one in stations.types])[kind],
        "length_m": np.array([line.length_m if one is None else one for one in stations.lengths])[length],
        "rated_power_w": np.array(stations.powers)[power],
    }
    if any(stations.tuners):
        found["tuner_shape"] = np.array([one or "" for one in stations.tuners])[tuner]
    if stations.loads[0].swr is not None:
        found["antenna_swr"] = np.array([one.swr for one in stations.loads])[load]
        found["antenna_phase_deg"] = np.degrees(np.array([one.phase_rad for one in stations.loads]))[load]
    return found
