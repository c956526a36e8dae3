"""Many stations at once: every combination of the ranges in [survey], in closed form and, if wished, in time."""

from bouncesim.survey.driver import Work, survey
from bouncesim.survey.engines import Cluster, Threads
from bouncesim.survey.stations import Stations
from bouncesim.survey.table import Table

__all__ = ["Cluster", "Stations", "Table", "Threads", "Work", "survey"]
