"""What probes said over weeks and months: rolled up by ten minutes, the last of it as it came. Reads the store.

A probe that speaks no oftener than every ten minutes is told exactly. One that speaks each minute is told by means of ten, at
their mean time; soil moves by a few hundredths of a degree in that, and a season reads in a tenth of the time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from collector.advice.season.record import HOUR_MS, Course
from collector.model import Probe, Series
from collector.ports import Readings
from collector.rollup import Every, Steps
from collector.units import Quantity

DAY_MS = 24 * HOUR_MS
# So much of the past is read as it came: what was written down, marked or corrected of late is looked at closely there.
AS_IT_CAME_MS = 3 * DAY_MS


def long_series(
    readings: Readings, probe: Probe, from_ms: int, to_ms: int, as_it_came_ms: int = AS_IT_CAME_MS, *, peaks: bool = False
) -> Series:
    """What a probe said that may be believed in from_ms <= t < to_ms, and the last of it whether to be believed or not.

    Rain is told by what fell in each ten minutes. With `peaks` the highest of ten minutes stands where the course turns
    down, and the lowest where it turns up, as a picture wants it. Raises what the store raises.

    Args:
        readings: the store.
        probe: the probe.
        from_ms: from when on [ms since 1970-01-01 UTC]; ten minutes that it cuts are left out.
        to_ms: up to when [ms]; no later reading is told.
        as_it_came_ms: how much before that is told as it came [ms].
        peaks: whether for a picture.
    """
    cut_ms = (to_ms - as_it_came_ms) // Every.TEN_MINUTES * Every.TEN_MINUTES
    if cut_ms <= from_ms:
        return readings.series(probe.id, from_ms, to_ms)
    steps = readings.steps(probe.id, from_ms, cut_ms, Every.TEN_MINUTES)
    old = _fallen(steps) if probe.quantity is Quantity.RAIN else steps.line() if peaks else steps.means()
    new = readings.series(probe.id, cut_ms, to_ms)
    return Series(
        probe.id,
        np.concatenate([old.time_ms, new.time_ms]),
        np.concatenate([old.value, new.value]),
        np.concatenate([old.flags, new.flags]),
    )


def long_series_of(probes: Sequence[Probe], readings: Readings, from_ms: int, to_ms: int) -> Mapping[str, Series]:
    """The same of several probes, by their ids."""
    return {probe.id: long_series(readings, probe, from_ms, to_ms) for probe in probes}


def hours(readings: Readings, probe_id: str, from_ms: int, to_ms: int) -> Course:
    """The means of the hours in which something was said that may be believed, each at the middle of its hour.

    Of the hours that begin in from_ms <= t < to_ms [ms since 1970-01-01 UTC]. Raises what the store raises.
    """
    steps = readings.steps(probe_id, from_ms, to_ms, Every.HOUR)
    return Course(steps.begin_ms + HOUR_MS // 2, steps.mean)


def fallen_mm(readings: Readings, probe_id: str, from_ms: int, to_ms: int) -> float | None:
    """What a rain gauge caught [mm]; None where it said nothing at all. Whole ten minutes count. Raises what the store raises."""
    caught = _fallen(readings.steps(probe_id, from_ms, to_ms, Every.TEN_MINUTES)).value
    return float(caught.sum()) if caught.size else None


def _fallen(steps: Steps) -> Series:
    return Series(steps.probe_id, steps.time_ms, steps.mean * steps.count, np.zeros(steps.time_ms.size, dtype=np.int64))
