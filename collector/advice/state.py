"""What is known of a bed at one moment, worked out from its readings. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from collector.advice.faults import FailingProbe, failing_probes, lies_in_air, swapped_probes, weak_battery
from collector.advice.follow import Followed, Track
from collector.advice.grids import profile_now, profiles_over
from collector.advice.season.state import SeasonState
from collector.advice.temperatures import TEMPERATURE_GAP_MS, at_clove, cloves_on, profiles_on, temperature_now
from collector.advice.temperatures import TEMPERATURE_PATIENCE_MS as TEMPERATURE_PATIENCE_MS  # rules take these from here
from collector.advice.temperatures import reaches_clove as reaches_clove
from collector.advice.wetted import Wetted
from collector.model import Bed, Probe, Reading, Series
from collector.outlook import Outlook
from collector.soil.estimate.column import Column
from collector.soil.profile import Estimate, Profile
from collector.soil.water import GARLIC_P_TABLE, readily_available_mm, root_zone_depletion_mm, total_available_mm
from collector.units import Quantity

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS

# How old a moisture reading may be and still speak of now, and over how much time a straight line
# between two is trusted: a root zone loses a few millimetres in a whole day. Common practice, no source.
MOISTURE_PATIENCE_MS = 12 * HOUR_MS
MOISTURE_GAP_MS = 6 * HOUR_MS

# The daily mean is taken over this grid, and is not known when less of the day has a value.
MEAN_STEP_MS = 10 * MINUTE_MS
MEAN_LEAST_COVER = 0.75

# How far back `state_of` looks: two days for the two means, and the longest gap before them.
STATE_SPAN_MS = 2 * DAY_MS + TEMPERATURE_GAP_MS


@dataclass(frozen=True, slots=True)
class WaterState:
    """Water in the root zone: litres per square metre are millimetres (FAO-56, eq. 82, 83, 87)."""

    depletion_mm: float
    taw_mm: float
    raw_mm: float
    p: float
    root_depth_m: float


@dataclass(frozen=True, slots=True)
class BedState:
    """One bed at `now_ms`. None means not known; it never stands for zero or for fine.

    `temperature` and `moisture` (volume ratio) are profiles of the newest trusted readings no
    older than the bed's patience; of a bed that was followed for a day the first is a Column,
    with its bands. `clove_mean_c` is the mean over the last 24 h at clove depth, None unless
    `clove_mean_cover` (0 to 1), the share of those hours with a value, is at least 0.75. While
    the stake lies in the air, `dug_up`, nothing is known of the soil now; `dug_up_ms` is since
    when, None where that is longer ago than is looked at.
    `heard_ms` is the newest reading of any kind.
    """

    bed: Bed
    now_ms: int
    temperature: Profile | Column | None
    moisture: Profile | None
    clove: Estimate | None
    clove_mean_c: float | None
    clove_mean_cover: float
    clove_mean_before_c: float | None  # the same mean 24 h earlier, for the direction it goes
    water: WaterState | None
    heard_ms: int | None
    temperature_heard_ms: int | None
    moisture_heard_ms: int | None
    outlook: Outlook | None = None  # what is expected of the days ahead, made not long ago
    wetted: Wetted | None = None  # how far the last watering or rain got, where there was one lately
    dug_up: bool = False
    dug_up_ms: int | None = None
    failing: tuple[FailingProbe, ...] = ()  # thermometers that are not believed, shallowest first
    swapped: tuple[Probe, Probe] | None = None  # two that seem to have each other's depth
    weak_battery: Reading | None = None  # the last word of a battery that is lower than it may be
    season: SeasonState | None = None  # how far its crop is; None where that was not worked out


def state_of(
    bed: Bed,
    series: Mapping[str, Series],
    latest: Mapping[str, Reading],
    now_ms: int,
    outlook: Outlook | None = None,
    wetted: Wetted | None = None,
    followed: Followed | None = None,
    season: SeasonState | None = None,
) -> BedState:
    """What the readings tell of a bed now.

    Args:
        bed: the bed.
        series: readings of its probes by probe id, at least over the last `STATE_SPAN_MS`.
        latest: the newest reading of each probe however old, so that a long silence has a beginning.
        now_ms: the moment [ms since 1970-01-01 UTC]; readings of later times are not looked at.
        outlook: what is expected of the bed, if anything is.
        wetted: how far the last watering or rain got, if there was one.
        followed: what its thermometers made known at `now_ms`, its track that of the cloves; None for a bed too young.
        season: how far its crop is.
    """
    thermometers, moisture_probes = bed.probes_of(Quantity.SOIL_TEMPERATURE), bed.probes_of(Quantity.SOIL_MOISTURE)
    dug_up, dug_up_ms = lies_in_air(bed, series, now_ms)
    temperature = None if dug_up else temperature_now(thermometers, series, now_ms, followed)
    moisture = None if dug_up else profile_now(moisture_probes, series, now_ms, MOISTURE_PATIENCE_MS)
    track = followed.track if followed else None
    mean_c, cover = _clove_mean(bed, series, now_ms, track)
    mean_before_c, _ = _clove_mean(bed, series, now_ms - DAY_MS, track)
    return BedState(
        bed=bed,
        now_ms=now_ms,
        temperature=temperature,
        moisture=moisture,
        clove=at_clove(bed, temperature),
        clove_mean_c=mean_c,
        clove_mean_cover=cover,
        clove_mean_before_c=mean_before_c,
        water=_by_demand(water_in(bed, moisture), outlook, now_ms),
        heard_ms=_newest_ms(bed.probes, series, latest, now_ms, trusted=False),
        temperature_heard_ms=_newest_ms(thermometers, series, latest, now_ms, trusted=True),
        moisture_heard_ms=_newest_ms(moisture_probes, series, latest, now_ms, trusted=True),
        outlook=outlook,
        wetted=wetted,
        dug_up=dug_up,
        dug_up_ms=dug_up_ms,
        failing=failing_probes(bed, series, now_ms),
        swapped=swapped_probes(bed, series, now_ms),
        weak_battery=weak_battery(bed, latest),
        season=season,
    )


def water_in(bed: Bed, moisture: Profile | None) -> WaterState | None:
    """Water in the root zone by the moisture probes; None where none of them tells.

    Source: Allen et al. 1998, FAO-56, eq. 82, 83 and 87, pp. 162-171; p of garlic from Table 22, p. 163. That p is for
    a demand of 5 mm/d; the correction for other demands needs the weather, which is not asked here.
    """
    if moisture is None:
        return None
    taw_mm = total_available_mm(bed.field_capacity, bed.wilting_point, bed.root_depth_m)
    return WaterState(
        depletion_mm=root_zone_depletion_mm(moisture, bed.field_capacity, bed.wilting_point, bed.root_depth_m),
        taw_mm=taw_mm,
        raw_mm=readily_available_mm(taw_mm, GARLIC_P_TABLE),
        p=GARLIC_P_TABLE,
        root_depth_m=bed.root_depth_m,
    )


# ---------------------------------------------------------------- through time


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """What is worked out of a span: n cloves [°C], n rows of temperatures by depth [°C], n depletions [mm]; NaN not known."""

    cloves_c: NDArray[np.float64]
    profile_c: NDArray[np.float64]
    depletion_mm: NDArray[np.float64]


def grid_of(
    bed: Bed,
    series: Mapping[str, Series],
    grid_ms: NDArray[np.int64],
    depths_m: NDArray[np.float64],
    track: Track | None = None,
) -> Grid:
    """Cloves, temperatures at `depths_m` [m] and depletion at each time of a grid [ms since 1970-01-01 UTC].

    With a `track` of those depths and, last, the cloves', temperatures are its; before it begins, or
    without one, they lie on straight lines between the probes.
    """
    moistures = profiles_over(bed.probes_of(Quantity.SOIL_MOISTURE), series, grid_ms, MOISTURE_GAP_MS)
    waters = [water_in(bed, moisture) for moisture in moistures]
    return Grid(
        cloves_c=cloves_on(bed, series, grid_ms, track),
        profile_c=profiles_on(bed, series, grid_ms, depths_m, track),
        depletion_mm=np.array([water.depletion_mm if water else np.nan for water in waters]),
    )


# ---------------------------------------------------------------- parts of the above


def _by_demand(water: WaterState | None, outlook: Outlook | None, now_ms: int) -> WaterState | None:
    """The refill line at the demand of these days, where that is known: p falls as the crop drinks faster.

    Source: Allen et al. 1998, FAO-56, note of Table 22, p. 163.
    """
    if water is None or outlook is None or outlook.water is None:
        return water
    raw_mm = float(np.interp(now_ms, outlook.water.time_ms, outlook.water.refill_mm))
    return replace(water, raw_mm=raw_mm, p=raw_mm / water.taw_mm)


def _clove_mean(bed: Bed, series: Mapping[str, Series], end_ms: int, track: Track | None) -> tuple[float | None, float]:
    """Mean at clove depth [°C] over the 24 h before `end_ms`, None if too little of it is known, and the share known."""
    # Middles of the steps, so that the newest point is not always one reading ahead of the readings.
    grid_ms = np.arange(end_ms - DAY_MS + MEAN_STEP_MS // 2, end_ms, MEAN_STEP_MS, dtype=np.int64)
    cloves_c = cloves_on(bed, series, grid_ms, track)
    known_c = cloves_c[np.isfinite(cloves_c)]
    cover = len(known_c) / len(grid_ms)
    return (float(np.mean(known_c)) if cover >= MEAN_LEAST_COVER else None), cover


def _newest_ms(
    probes: Sequence[Probe], series: Mapping[str, Series], latest: Mapping[str, Reading], now_ms: int, *, trusted: bool
) -> int | None:
    """When the newest reading of these probes up to now was measured [ms], None if there is none."""
    heard_ms = []
    for probe in probes:
        if probe.id in series:
            known = series[probe.id].trusted() if trusted else series[probe.id]
            heard_ms += known.time_ms[known.time_ms <= now_ms][-1:].tolist()
        reading = latest.get(probe.id)
        # A reading dated in the future was heard when it came, so that its date cannot hide a silence.
        if reading is not None and (reading.trusted or not trusted):
            heard_ms.append(min(reading.measured_ms, reading.received_ms, now_ms))
    return max(heard_ms, default=None)
