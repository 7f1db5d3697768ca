"""What the pages are told of a garden, its beds and its probes: plain frozen values, arrays in them read only by agreement."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.advice.heard import Heard
from collector.advice.state import BedState
from collector.advice.wording import WordedCall
from collector.calls import Job
from collector.journal import Deed
from collector.model import Bed, Garden, Probe, Reading, Series
from collector.outlook import Outlook


@dataclass(frozen=True, slots=True)
class ProbeView:
    """A probe, the last thing it said, and its faults in words."""

    probe: Probe
    last: Reading | None
    heard: Heard
    fault: str | None


@dataclass(frozen=True, slots=True)
class BedView:
    """One bed now. `calls` are due, soon, not-known and lately-done ones; fine ones are not among them."""

    bed: Bed
    state: BedState
    calls: tuple[WordedCall, ...]
    fine: str | None  # the sentence for a bed that asks for nothing
    probes: tuple[ProbeView, ...]
    heard: Heard
    heard_ms: int | None
    cool_line: str | None  # "cool below 7 cm", "cool from 4 cm down", in the grower's unit; None if not known
    crossings_m: tuple[float, ...]  # depths at which the soil crosses the limit, shallowest first
    air_c: float | None  # of the bed's own air thermometer, else of another bed's; None if none spoke lately
    foreseen: tuple[tuple[Job, int], ...] = ()  # jobs that are not due yet, and when they are likely to be [ms]
    behind: str | None = None  # what to say instead while readings come in far behind the clock
    unsaid_watering_ms: int | None = None  # when water came that the probes saw and nobody told of
    expected: bool = False  # a moment to come, if nothing is done: no probe has spoken there
    wetted: str | None = None  # how far the last watering or rain got, as a sentence; None where there was none lately


@dataclass(frozen=True, slots=True)
class GardenView:
    """The whole garden now; `trouble` are sentences about broker, wire or store."""

    garden: Garden
    now_ms: int
    beds: tuple[BedView, ...]
    unclaimed: int
    trouble: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Swing:
    """Least and greatest reading of each day [UTC] of a probe: three arrays of n, `time_ms` the middle of the day."""

    probe: Probe
    time_ms: NDArray[np.int64]
    least: NDArray[np.float64]
    most: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class BedHistory:
    """A bed over a span: what each probe said, and what was worked out of it on a regular grid.

    `grid_ms` has n times; `cloves_c` n values; `profile_c` n rows by len(grid_depths_m) columns;
    `depletion_mm` n values, all float64 with NaN where not known. `waterings` are (time, litres
    or NaN) as told by the grower. `outlook` is what is expected of the days after now.
    """

    bed: Bed
    from_ms: int
    to_ms: int
    now_ms: int
    temperatures: tuple[tuple[Probe, Series], ...]
    moistures: tuple[tuple[Probe, Series], ...]
    grid_ms: NDArray[np.int64]
    cloves_c: NDArray[np.float64]
    grid_depths_m: NDArray[np.float64]
    profile_c: NDArray[np.float64]
    depletion_mm: NDArray[np.float64]
    waterings: tuple[tuple[int, float], ...]
    deeds: tuple[tuple[int, Deed], ...] = ()  # when the cloth was laid and taken off, and when it was fed [ms]
    outlook: Outlook | None = None
    swings: tuple[Swing, ...] = ()  # of spans that are told in means of days

    @property
    def is_past(self) -> bool:
        """Whether the span ends before now."""
        return self.to_ms < self.now_ms


@dataclass(frozen=True, slots=True)
class Health:
    """How the collector is, for `/health`. `well` is False when a page should answer 503."""

    status: str
    well: bool
    last_reading_age_s: float | None
    queue_depth: int
    refused_total: int
    refused_kept: int = 0  # the oldest are let go where they take too much room
    unclaimed_kept: int = 0

    def plain(self) -> dict[str, object]:
        """What is told of it where programs ask, for JSON."""
        return {
            "status": self.status,
            "last_reading_age_s": self.last_reading_age_s,
            "queue_depth": self.queue_depth,
            "refused_total": self.refused_total,
            "refused_kept": self.refused_kept,
            "unclaimed_kept": self.unclaimed_kept,
        }
