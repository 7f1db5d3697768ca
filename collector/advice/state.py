"""What is known of a bed at one moment, worked out from its readings. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from collector.model import Bed, Probe, Reading, Series
from collector.outlook import Outlook
from collector.soil.profile import Estimate, Profile, profile_of
from collector.soil.water import GARLIC_P_TABLE, readily_available_mm, root_zone_depletion_mm, total_available_mm
from collector.units import Quantity

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS

# How old a reading may be and still speak of now. At clove depth the daily wave takes six hours
# from its middle to its peak, so a three-hour-old temperature is still on the right part of it;
# a root zone loses a few millimetres in a whole day. Common practice, no source.
TEMPERATURE_PATIENCE_MS = 3 * HOUR_MS
MOISTURE_PATIENCE_MS = 12 * HOUR_MS

# A straight line between two readings is trusted over this much time, by the same reasoning.
TEMPERATURE_GAP_MS = 2 * HOUR_MS
MOISTURE_GAP_MS = 6 * HOUR_MS

# A thermometer this near to the clove is in the clove's place: nobody buries closer than that.
AT_THE_CLOVE_M = 0.01

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
    older than the bed's patience. `clove_mean_c` is the mean over the last 24 h at clove depth,
    None unless `clove_mean_cover` (0 to 1), the share of those hours with a value, is at least 0.75.
    `heard_ms` is the newest reading of any kind.
    """

    bed: Bed
    now_ms: int
    temperature: Profile | None
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


def state_of(
    bed: Bed, series: Mapping[str, Series], latest: Mapping[str, Reading], now_ms: int, outlook: Outlook | None = None
) -> BedState:
    """What the readings tell of a bed now.

    Args:
        bed: the bed.
        series: readings of its probes by probe id, at least over the last `STATE_SPAN_MS`.
        latest: the newest reading of each probe however old, so that a long silence has a beginning.
        now_ms: the moment [ms since 1970-01-01 UTC]; readings of later times are not looked at.
        outlook: what is expected of the bed, if anything is.
    """
    thermometers, moisture_probes = bed.probes_of(Quantity.SOIL_TEMPERATURE), bed.probes_of(Quantity.SOIL_MOISTURE)
    temperature = _profile_now(thermometers, series, now_ms, TEMPERATURE_PATIENCE_MS)
    moisture = _profile_now(moisture_probes, series, now_ms, MOISTURE_PATIENCE_MS)
    mean_c, cover = _clove_mean(bed, series, now_ms)
    mean_before_c, _ = _clove_mean(bed, series, now_ms - DAY_MS)
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
    )


def at_clove(bed: Bed, temperature: Profile | None) -> Estimate | None:
    """Temperature [°C] at the shallowest clove: of the thermometer there, else between those around it; None out of reach."""
    if temperature is None or bed.clove_depth_m is None:
        return None
    clove_m = bed.clove_depth_m
    nearest_m = min(temperature.depths_m, key=lambda depth_m: abs(depth_m - clove_m))
    # The margin keeps "1 cm" true of depths that binary fractions hold only nearly.
    there = abs(nearest_m - clove_m) <= AT_THE_CLOVE_M + 1e-9
    return temperature.at(nearest_m if there else clove_m)


def reaches_clove(bed: Bed) -> bool:
    """True where the bed's thermometers, were all of them heard, would tell the temperature at the cloves."""
    depths_m = [probe.depth_m for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if probe.depth_m is not None]
    return at_clove(bed, profile_of([(depth_m, 0.0) for depth_m in depths_m])) is not None


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


def profiles_over(
    probes: Sequence[Probe], series: Mapping[str, Series], grid_ms: NDArray[np.int64], gap_ms: int
) -> list[Profile | None]:
    """A profile for each time of a grid: each probe linear in time across gaps up to `gap_ms` [ms], None where all are silent."""
    columns = [
        (probe.depth_m, on_grid(series[probe.id], grid_ms, gap_ms))
        for probe in probes
        if probe.depth_m is not None and probe.id in series
    ]
    rows = np.array([values for _, values in columns]).reshape(len(columns), len(grid_ms)).T
    depths_m = [depth_m for depth_m, _ in columns]
    return [
        profile_of([(depth_m, float(value)) for depth_m, value in zip(depths_m, row, strict=True) if not np.isnan(value)])
        for row in rows
    ]


def on_grid(series: Series, grid_ms: NDArray[np.int64], gap_ms: int) -> NDArray[np.float64]:
    """Trusted values at the times of a grid, linear between readings no farther apart than `gap_ms` [ms], else NaN."""
    trusted = series.trusted()
    times_ms, last = trusted.time_ms, len(trusted.time_ms) - 1
    if last < 0:
        return np.full(len(grid_ms), np.nan)
    values = np.interp(grid_ms, times_ms, trusted.value, left=np.nan, right=np.nan)
    next_ms = times_ms[np.clip(np.searchsorted(times_ms, grid_ms, side="left"), 0, last)]
    previous_ms = times_ms[np.clip(np.searchsorted(times_ms, grid_ms, side="right") - 1, 0, last)]
    values[next_ms - previous_ms > gap_ms] = np.nan
    return values


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """What is worked out of a span: n cloves [°C], n rows of temperatures by depth [°C], n depletions [mm]; NaN not known."""

    cloves_c: NDArray[np.float64]
    profile_c: NDArray[np.float64]
    depletion_mm: NDArray[np.float64]


def grid_of(bed: Bed, series: Mapping[str, Series], grid_ms: NDArray[np.int64], depths_m: NDArray[np.float64]) -> Grid:
    """Cloves, temperatures at `depths_m` [m] and depletion at each time of a grid [ms since 1970-01-01 UTC]."""
    temperatures = profiles_over(bed.probes_of(Quantity.SOIL_TEMPERATURE), series, grid_ms, TEMPERATURE_GAP_MS)
    moistures = profiles_over(bed.probes_of(Quantity.SOIL_MOISTURE), series, grid_ms, MOISTURE_GAP_MS)
    waters = [water_in(bed, moisture) for moisture in moistures]
    cut = [[_value(profile.at(depth_m)) if profile else np.nan for depth_m in depths_m.tolist()] for profile in temperatures]
    return Grid(
        cloves_c=np.array([_value(at_clove(bed, profile)) for profile in temperatures]),
        profile_c=np.array(cut).reshape(len(grid_ms), len(depths_m)),
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


def _value(estimate: Estimate | None) -> float:
    return np.nan if estimate is None else estimate.value


def _clove_mean(bed: Bed, series: Mapping[str, Series], end_ms: int) -> tuple[float | None, float]:
    """Mean at clove depth [°C] over the 24 h before `end_ms`, None if too little of it is known, and the share known."""
    # Middles of the steps, so that the newest point is not always one reading ahead of the readings.
    grid_ms = np.arange(end_ms - DAY_MS + MEAN_STEP_MS // 2, end_ms, MEAN_STEP_MS, dtype=np.int64)
    profiles = profiles_over(bed.probes_of(Quantity.SOIL_TEMPERATURE), series, grid_ms, TEMPERATURE_GAP_MS)
    known_c = [estimate.value for estimate in (at_clove(bed, profile) for profile in profiles) if estimate is not None]
    cover = len(known_c) / len(grid_ms)
    return (float(np.mean(known_c)) if cover >= MEAN_LEAST_COVER else None), cover


def _profile_now(probes: Sequence[Probe], series: Mapping[str, Series], now_ms: int, patience_ms: int) -> Profile | None:
    """The newest trusted reading of each probe, where it is no older than `patience_ms` [ms]."""
    points = []
    for probe in probes:
        trusted = series[probe.id].trusted() if probe.id in series else None
        if trusted is None or probe.depth_m is None:
            continue
        newest = int(np.searchsorted(trusted.time_ms, now_ms, side="right")) - 1
        if newest >= 0 and now_ms - int(trusted.time_ms[newest]) <= patience_ms:
            points.append((probe.depth_m, float(trusted.value[newest])))
    return profile_of(points)


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
