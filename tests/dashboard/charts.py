"""What the tests of the charts share: readers, a history of a bed, and the parts of a figure."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from collector.query import BedHistory
from collector.units import UnitSystem
from dashboard.figures.chart import Finding, Reader
from dashboard.figures.depth_time import depth_time
from dashboard.figures.depth_words import depth_time_finding
from dashboard.figures.temperature_words import temperatures_finding
from dashboard.figures.temperatures import temperatures
from dashboard.figures.water import water
from dashboard.figures.water_words import water_finding
from tests.dashboard import fakes
from tests.dashboard.fakes import DAY_MS, HOUR_MS, NOW_MS

READER = Reader("light", UnitSystem.METRIC, "Europe/Lisbon")
DARK, AMERICAN = replace(READER, mode="dark"), replace(READER, units=UnitSystem.US)
REFILL_MM = 10.8

Draw = Callable[[BedHistory, Reader], dict[str, Any]]
DRAWINGS: dict[str, Draw] = {
    "depth_time": depth_time,
    "temperatures": temperatures,
    "water": lambda history, reader: water(history, reader, REFILL_MM),
}
FINDINGS: dict[str, Callable[[BedHistory, Reader], Finding]] = {
    "depth_time": depth_time_finding,
    "temperatures": temperatures_finding,
    "water": lambda history, reader: water_finding(history, reader, REFILL_MM),
}
every_chart = pytest.mark.parametrize("draw", DRAWINGS.values(), ids=DRAWINGS)


def history(kind: str = "fine", days: float = 3, **changes: Any) -> BedHistory:
    return replace(fakes.history(fakes.bed_view(kind), NOW_MS - round(days * DAY_MS), NOW_MS), **changes)


def with_ahead(kind: str = "due", days: float = 3, *, changes: dict[str, Any] | None = None, **options: Any) -> BedHistory:
    """A history with what is expected after it; `options` make that warmer or cooler, `changes` are of the outlook itself."""
    to_come = replace(fakes.outlook(fakes.bed_view(kind), **options), **(changes or {}))
    return history(kind, days, outlook=to_come)


def trace(figure: dict[str, Any], name: str) -> dict[str, Any]:
    (found,) = [each for each in figure["data"] if each["name"] == name]
    return found


def texts(figure: dict[str, Any]) -> list[str]:
    return [note["text"] for note in figure["layout"]["annotations"]]


def year(**changes: Any) -> BedHistory:
    return replace(fakes.history(fakes.bed_view("fine"), NOW_MS - 365 * DAY_MS, NOW_MS, step_ms=HOUR_MS), **changes)
