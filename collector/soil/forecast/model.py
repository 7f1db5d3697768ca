"""Fit and forecast: the two questions of the package.

`fit` is the slow half, a second at most for a season of readings; it is to be done anew when readings came.
`forecast` is the quick half, well under a millisecond, and may be asked again and again with other weather.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from collector.soil.arrays import Array, mean_known
from collector.soil.estimate.answer import HALF_BAND
from collector.soil.estimate.ground import COLUMN_M as ESTIMATED_M
from collector.soil.estimate.season import Thermometer, history
from collector.soil.forecast import banks, drives
from collector.soil.forecast.doubt import Doubt, spread_k
from collector.soil.forecast.inputs import DAY_H, HOUR_MS, Record, Site, Times, Weather, hours_of
from collector.soil.forecast.learning import FADES_H, MEMORIES_D, learned
from collector.soil.forecast.lines import Lines
from collector.soil.forecast.panel import Panel, panel_of
from collector.soil.forecast.recent import recent

LONGEST_H = 7 * DAY_H
# Readings older than this teach nothing that the soil still does; weather before them fills the filters.
_LEARNT_D, _WARM_UP_D = 60, 30
PAST_DAYS = _LEARNT_D + _WARM_UP_D
# So many past days are forecast anew to weigh the members and to measure the band.
_RECORD_D = 45
_RECENT_DAYS = (1, 7)
# Probes as near to a depth as this are at it.
_SAME_DEPTH_M = 0.005
_FRESH_D = 7
# A depth with no thermometer of its own is estimated at every second hour of so many last days: that is enough for a fit.
_ESTIMATED_D, _ESTIMATED_EVERY_H = 60, 2


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """What the past has taught about one depth, as of the full hour `origin_ms` [ms since 1970 UTC].

    `by_weather` is the panel that heeds the weather, None where none was observed; `by_clock` knows only the sun of a
    clear sky. `past` is the weather before, hourly, for hours that no forecast covers. `estimate_error_k`
    is the standard error [K] of the past at a depth with no thermometer, 0 where there is one.
    """

    depth_m: float
    origin_ms: int
    site: Site
    past: drives.HourlyWeather
    by_weather: Panel | None
    by_clock: Panel
    estimate_error_k: float


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    """The past at the depth to forecast: n hourly temperatures [°C], NaN is not known, and their standard error [K]."""

    temperature_c: Array
    error_k: float


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """Temperature at one depth at the full hours ahead: time [ms since 1970 UTC], mean and 80 % band [°C], h values each."""

    time_ms: Times
    mean_c: Array
    low_c: Array
    high_c: Array


def fit(records: Sequence[Record], weather: Weather, site: Site, depth_m: float, now_ms: int) -> Fitted:
    """Learn what a forecast at a depth needs [panels of members], from readings and weather up to now alone.

    Readings may be unsorted, doubled or NaN; two thermometers at one depth count as their mean. Later rows change nothing.
    In the polar night the sun is nothing, and the clock tells nothing but that.

    Args:
        records: thermometers of the bed at any depths [Record].
        weather: observed weather, or none [Weather].
        site: where the bed is [Site].
        depth_m: depth below the soil surface, 0 to 2 [m].
        now_ms: last moment that may be known [ms since 1970 UTC].

    Raises:
        ValueError: a depth outside that range, no reading in the last seven days, or less than a day of them.

    Source: design of the panel, common practice, no source; its parts name theirs.
    """
    if not 0.0 <= depth_m <= banks.COLUMN_M:
        raise ValueError(f"depth_m is {depth_m}; want 0 to {banks.COLUMN_M} below the soil surface [m]")
    origin_ms = now_ms // HOUR_MS * HOUR_MS
    grid_ms = _grid(records, weather, origin_ms, now_ms)
    target = _target(records, depth_m, grid_ms, now_ms)
    target_c = target.temperature_c
    known = np.flatnonzero(np.isfinite(target_c))
    if known.size == 0 or grid_ms.size - known[-1] > _FRESH_D * DAY_H:
        raise ValueError(f"no reading for {100 * depth_m:g} cm in the last {_FRESH_D} days; want at least one, and a day of them")
    if grid_ms.size - known[0] < DAY_H:
        raise ValueError(f"readings for {100 * depth_m:g} cm began only {grid_ms.size - known[0]} h ago; want {DAY_H} h at least")
    past = drives.past_weather(weather, grid_ms, site)
    clear_sun = drives.clear_sun_w_m2(grid_ms, site)
    by_weather = None
    if past.columns:
        by_weather = _panel(drives.drives_of(past, clear_sun), past.known, target_c, depth_m, by_weather=True)
    by_clock = _panel(clear_sun[:, None] / 100.0, np.ones(grid_ms.size), target_c, depth_m, by_weather=False)
    return Fitted(depth_m, origin_ms, site, past, by_weather, by_clock, target.error_k)


def forecast(fitted: Fitted, ahead: Weather, hours: int, doubt: Doubt | None = None) -> Forecast:
    """Temperature at the next full hours with its 80 % band [°C].

    Where the weather ahead ends, the forecast passes within a day to what the clock alone can tell.

    Args:
        fitted: what the past has taught [Fitted].
        ahead: forecast weather; what lies not ahead is not looked at [Weather].
        hours: how far ahead, 1 to 168 [h].
        doubt: how far that weather may be off, which widens the band; None takes it as exact [Doubt].

    Raises:
        ValueError: hours outside that range.

    Source: superposition; see `collector.soil.forecast.lines`.
    """
    if not 1 <= hours <= LONGEST_H:
        raise ValueError(f"hours is {hours}; want 1 to {LONGEST_H}")
    time_ms = fitted.origin_ms + HOUR_MS * np.arange(1, LONGEST_H + 1, dtype=np.int64)
    clear_sun = drives.clear_sun_w_m2(time_ms, fitted.site)
    mean_c, half_k = _under(fitted.by_clock, clear_sun[:, None] / 100.0), fitted.by_clock.half_band_k
    if fitted.by_weather is not None:
        coming = drives.weather_ahead(ahead, fitted.past, time_ms, fitted.site)
        seen = np.convolve(coming.known, np.ones(DAY_H))[:LONGEST_H] / np.minimum(np.arange(1, LONGEST_H + 1), DAY_H)
        mean_c = seen * _under(fitted.by_weather, drives.drives_of(coming, clear_sun)) + (1.0 - seen) * mean_c
        half_by_weather_k = fitted.by_weather.half_band_k
        if doubt is not None:
            response = fitted.by_weather.response
            off_k = spread_k(response, coming, lambda weather: drives.drives_of(weather, clear_sun), doubt)
            half_by_weather_k = np.hypot(half_by_weather_k, HALF_BAND * off_k)
        half_k = seen * half_by_weather_k + (1.0 - seen) * half_k
    half_k = np.hypot(half_k, HALF_BAND * fitted.estimate_error_k)
    return Forecast(time_ms[:hours], mean_c[:hours], (mean_c - half_k)[:hours], (mean_c + half_k)[:hours])


def _under(panel: Panel, coming: Array) -> Array:
    """The panel's forecast under given drives, h by m."""
    size = 2 * coming.shape[0]
    spectrum = (np.fft.rfft(panel.response, size) * np.fft.rfft(coming.T, size)).sum(axis=0)
    added: Array = np.fft.irfft(spectrum, size)[: coming.shape[0]]
    under_c: Array = panel.free_c + added
    return under_c


def _panel(driving: Array, trust: Array, target_c: Array, depth_m: float, *, by_weather: bool) -> Panel:
    last = target_c.size - 1
    first = int(np.flatnonzero(np.isfinite(target_c))[0])
    days = min(_RECORD_D, (last - first) // DAY_H)
    origins = [last - DAY_H * day for day in range(days, -1, -1)]
    # hours after unknown weather are trusted little by little again
    settled = banks.settled(trust)
    count = driving.shape[1]
    filled_c = drives.fill_across_days(target_c)
    filled_c[:first] = np.nan

    def learn(bank: banks.Bank, expected: Array) -> list[Lines]:
        both = product(FADES_H, MEMORIES_D)
        return [learned(bank, target_c, settled, origins, fade_h, memory_d, expected) for fade_h, memory_d in both]

    columns = np.tile(drives.expected_of(count) / len(banks.COLUMNS), len(banks.COLUMNS))
    by_soil = learn(banks.heat_bank(driving, origins, LONGEST_H, depth_m), columns)
    by_lags = learn(banks.filter_bank(driving, origins, LONGEST_H), np.zeros(count * len(banks.FILTERS_H)))
    by_days = [recent(filled_c, origins, LONGEST_H, count, days) for days in _RECENT_DAYS]
    # before there is a record: with weather, what soil is known to do; without, that the days are alike
    guess = np.array([1.0 / len(by_soil), 0.0, 0.0] if by_weather else [0.0, 0.0, 1.0 / len(by_days)])
    first_guess = np.repeat(guess, [len(by_soil), len(by_lags), len(by_days)])
    padded = np.vstack([driving, np.repeat(driving[-1:], LONGEST_H, axis=0)])
    ahead = np.stack([padded[origin + 1 : origin + 1 + LONGEST_H].T for origin in origins])
    return panel_of([*by_soil, *by_lags, *by_days], ahead, target_c, trust, origins, first_guess, by_weather=by_weather)


def _grid(records: Sequence[Record], weather: Weather, origin_ms: int, now_ms: int) -> Times:
    begin_ms = origin_ms - PAST_DAYS * DAY_H * HOUR_MS
    times = [np.asarray(one.time_ms) for one in records] + [np.asarray(weather.time_ms)]
    firsts = [int(time.min()) for time in (time[(time >= begin_ms) & (time <= now_ms)] for time in times) if time.size]
    first_ms = min(firsts, default=origin_ms) // HOUR_MS * HOUR_MS
    return np.arange(min(first_ms, origin_ms), origin_ms + 1, HOUR_MS, dtype=np.int64)


def _target(records: Sequence[Record], depth_m: float, grid_ms: Times, now_ms: int) -> _Target:
    """As read where there is a thermometer at that depth, else as estimated from the others."""
    by_depth: dict[float, list[Array]] = {}
    for one in records:
        times_ms = np.asarray(one.time_ms, dtype=np.int64)
        past = times_ms <= now_ms
        hourly_c = hours_of(times_ms[past], np.asarray(one.temperature_c, dtype=np.float64)[past], grid_ms)
        if np.isfinite(hourly_c).any():
            near = next((depth for depth in by_depth if abs(depth - one.depth_m) <= _SAME_DEPTH_M), one.depth_m)
            by_depth.setdefault(near, []).append(hourly_c)
    means_c = {depth: mean_known(several) for depth, several in sorted(by_depth.items())}
    at = min(means_c, key=lambda depth: abs(depth - depth_m), default=None)
    if at is None:
        return _Target(np.full(grid_ms.size, np.nan), 0.0)
    if abs(at - depth_m) <= _SAME_DEPTH_M:
        return _Target(means_c[at], 0.0)
    return _estimated(means_c, depth_m, grid_ms)


def _estimated(means_c: Mapping[float, Array], depth_m: float, grid_ms: Times) -> _Target:
    last = np.arange(grid_ms.size)[::-1][: _ESTIMATED_D * DAY_H : _ESTIMATED_EVERY_H][::-1]
    thermometers = [Thermometer(min(depth, ESTIMATED_M), grid_ms[last], values_c[last]) for depth, values_c in means_c.items()]
    told = history(thermometers, grid_ms[last], np.array([min(depth_m, ESTIMATED_M)]))
    spoke = np.isfinite(np.column_stack([one.value_c for one in thermometers])).any(axis=1)
    temperature_c = np.full(grid_ms.size, np.nan)
    temperature_c[last[spoke]] = told.temperature_c[spoke, 0]
    of_late_k = told.half_band_k[spoke, 0][-_FRESH_D * DAY_H // _ESTIMATED_EVERY_H :]
    return _Target(temperature_c, float(of_late_k.mean()) / HALF_BAND if of_late_k.size else 0.0)
