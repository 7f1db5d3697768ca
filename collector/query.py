"""The questions the dashboard may ask, and the answers it gets.

One door for the pages: they import this module, `collector.model` and `collector.units`,
and nothing deeper. Every answer is a fresh frozen value; arrays in it are read only by
agreement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from collector.advice.state import BedState
from collector.model import Bed, Call, Garden, Job, Notice, Probe, Reading, Series, Unclaimed


class Heard(StrEnum):
    """How lately a probe or bed spoke, against the pace it usually keeps."""

    FRESH = "fresh"
    LATE = "late"  # three readings missed
    SILENT = "silent"  # twelve readings missed, or an hour, whichever is longer
    NEVER = "never"


@dataclass(frozen=True, slots=True)
class WordedCall:
    """A call in the grower's words and units, ready to be written on a page.

    `flag` is when ("Due today"), `heading` verb, thing and amount ("Water 68 litres"),
    `sentence` what happens otherwise, `button` what to tap when it is done ("Watered"; None
    where nothing can be said done). `why` holds the numbers, one sentence each; `rule`,
    `evidence`, `source` and `would_change` stand under it. `above_ground` tells on which side
    of the cut it is written, and `depth_m` where its stem ends.
    """

    call: Call
    flag: str
    heading: str
    sentence: str
    button: str | None
    why: tuple[str, ...]
    rule: str
    evidence: str
    source: str
    would_change: str
    above_ground: bool
    depth_m: float
    caution: str | None = None


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
    cool_line: str | None  # "cool below 7 cm", "cool all the way down", in the grower's unit; None if not known
    crossings_m: tuple[float, ...]  # depths at which the soil crosses the limit, shallowest first


@dataclass(frozen=True, slots=True)
class GardenView:
    """The whole garden now; `trouble` are sentences about broker, wire or store."""

    garden: Garden
    now_ms: int
    beds: tuple[BedView, ...]
    unclaimed: int
    trouble: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class BedHistory:
    """A bed over a span: what each probe said, and what was worked out of it on a regular grid.

    `grid_ms` has n times; `cloves_c` n values; `profile_c` n rows by len(grid_depths_m) columns;
    `depletion_mm` n values, all float64 with NaN where not known. `waterings` are (time, litres
    or NaN) as told by the grower.
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


@dataclass(frozen=True, slots=True)
class Health:
    """How the collector is, for `/health`. `well` is False when a page should answer 503."""

    status: str
    well: bool
    last_reading_age_s: float | None
    queue_depth: int
    refused_total: int


class SoilQueries:
    """Answers from the stores; opened by wiring.py, one for each process that asks."""

    def garden(self) -> GardenView:
        """Every bed now, the most pressing first."""
        raise NotImplementedError

    def bed(self, bed_id: str) -> BedView:
        """One bed now. Raises QuestionError for an unknown id."""
        raise NotImplementedError

    def history(self, bed_id: str, from_ms: int, to_ms: int) -> BedHistory:
        """One bed over a span. Raises QuestionError for an unknown id or a span that ends before it begins."""
        raise NotImplementedError

    def unclaimed(self) -> Sequence[Unclaimed]:
        """Addresses heard that no probe claims."""
        raise NotImplementedError

    def notices(self, limit: int = 50) -> Sequence[Notice]:
        """What was told, the newest first."""
        raise NotImplementedError

    def mark_done(self, bed_id: str, job: Job) -> None:
        """The grower says the job is done."""
        raise NotImplementedError

    def undo(self, bed_id: str, job: Job) -> None:
        """The grower takes that back."""
        raise NotImplementedError

    def mark_seen(self, notice_id: int) -> None:
        """The grower has seen this notice."""
        raise NotImplementedError

    def health(self) -> Health:
        """How the collector is."""
        raise NotImplementedError
