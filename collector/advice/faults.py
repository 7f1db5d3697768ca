"""What the watch over the probes has marked the newest readings with: a stake in the air, a probe that fails. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from collector.model import FAILING, Bed, Flag, Probe, Reading, Series
from collector.soil.depth_order import swapped
from collector.units import Quantity

DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class FailingProbe:
    """A probe that fails now, how (a flag of `FAILING`), and since when [ms]; None where that is longer ago than is looked at."""

    probe: Probe
    how: Flag
    since_ms: int | None


def lies_in_air(bed: Bed, series: Mapping[str, Series], now_ms: int) -> tuple[bool, int | None]:
    """Whether the newest word of the bed's thermometers came out of the air, and since when [ms].

    None is for a stake that does not, and for one that has lain there for longer than `series` goes back.
    """
    known = [series[probe.id] for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if probe.id in series]
    runs = [_run(one, Flag.DUG_UP, now_ms) for one in known]
    newest_ms = max((last_ms for _, last_ms, _ in runs), default=0)
    if not newest_ms or not any(marked for marked, last_ms, _ in runs if last_ms == newest_ms):
        return False, None
    begins = [first_ms for marked, _, first_ms in runs if marked]
    return True, None if None in begins else min(first_ms for first_ms in begins if first_ms is not None)


def failing_probes(bed: Bed, series: Mapping[str, Series], now_ms: int) -> tuple[FailingProbe, ...]:
    """The probes whose newest reading is marked as that of a failing one, shallowest first."""
    found = []
    for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE):
        for how in FAILING:
            marked, _, first_ms = _run(series[probe.id], how, now_ms) if probe.id in series else (False, 0, None)
            if marked:
                found.append(FailingProbe(probe, how, first_ms))
                break
    return tuple(found)


def swapped_probes(bed: Bed, series: Mapping[str, Series], now_ms: int) -> tuple[Probe, Probe] | None:
    """Two thermometers that seem to have each other's depth, on each of the last two days; None where none do."""
    probes = [probe for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if probe.depth_m is not None and probe.id in series]
    if len(probes) < 2:
        return None
    found = set()
    for end_ms in (now_ms - DAY_MS, now_ms):
        days = [series[probe.id].trusted().within(end_ms - DAY_MS, end_ms) for probe in probes]
        found.add(swapped([day.time_ms for day in days], [day.value for day in days]))
    places = found.pop() if len(found) == 1 else None
    return None if places is None else (probes[places[0]], probes[places[1]])


def weak_battery(bed: Bed, latest: Mapping[str, Reading]) -> Reading | None:
    """The last word of a battery of the bed that is lower than it may be; None where none is."""
    last = [(probe.low_v, latest.get(probe.id)) for probe in bed.probes_of(Quantity.BATTERY)]
    return next((one for low_v, one in last if one is not None and low_v is not None and one.trusted and one.value < low_v), None)


def _run(series: Series, flag: Flag, now_ms: int) -> tuple[bool, int, int | None]:
    """Whether the newest reading has a flag, when it was [ms, 0 if never], and the first of the run of such readings.

    None stands for a run that fills the whole series.
    """
    count = int(np.searchsorted(series.time_ms, now_ms, side="right"))
    if not count:
        return False, 0, None
    marked = (series.flags[:count] & int(flag)) != 0
    without = np.flatnonzero(~marked)
    first = int(without[-1]) + 1 if without.size else 0
    return bool(marked[-1]), int(series.time_ms[count - 1]), int(series.time_ms[first]) if 0 < first < count else None


def worst(failing: Sequence[FailingProbe]) -> FailingProbe | None:
    """The one to name first: the one that has failed longest; None where none fails."""
    return min(failing, key=lambda one: one.since_ms or 0, default=None)
