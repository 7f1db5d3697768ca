"""What the probes of a fake bed would have said over a span. The numbers are invented."""

from __future__ import annotations

import numpy as np

from collector.model import Probe, Series
from collector.outlook import Outlook, TemperatureAhead, WaterAhead
from collector.query import BedHistory, BedView, Heard
from collector.units import Quantity

MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
DRINKS_MM, FULL_AFTER_DAYS = 4.1, 2.4


def wave_c(time_ms: np.ndarray, depth_m: float, now_ms: int) -> np.ndarray:
    """A daily wave that fades and lags with depth over a slow rise: made up, but shaped like soil."""
    days = (time_ms - now_ms) / DAY_MS
    damping_m = 0.11
    fade = np.exp(-depth_m / damping_m)
    return 17.2 + 0.5 * days - 4 * depth_m + 3.5 * fade * np.sin(2 * np.pi * (days - 0.05) - depth_m / damping_m)


def history(
    of: BedView,
    from_ms: int,
    to_ms: int,
    *,
    step_ms: int = 10 * MINUTE_MS,
    gap: tuple[int, int] | None = None,
    ahead: Outlook | None = None,
) -> BedHistory:
    """What the probes of a bed would have said in that span; nothing inside `gap` [ms]. After now there is only `ahead`."""
    now_ms = of.state.now_ms
    grid_ms = np.arange(from_ms, min(to_ms, now_ms) + 1, step_ms, dtype=np.int64)
    silent = of.heard is Heard.NEVER
    hole = np.full(grid_ms.shape, silent)
    if of.heard_ms is not None:
        hole |= grid_ms > of.heard_ms
    if gap:
        hole |= (grid_ms >= gap[0]) & (grid_ms <= gap[1])
    kept_ms = grid_ms[~hole]

    def series(each: Probe, values: np.ndarray) -> tuple[Probe, Series]:
        return each, Series(each.id, kept_ms, values, np.zeros(kept_ms.size, dtype=np.int64))

    thermometers, moistures = (of.bed.probes_of(Quantity.SOIL_TEMPERATURE), of.bed.probes_of(Quantity.SOIL_MOISTURE))
    depths_m = np.arange(0, 0.401, 0.01)
    known = [each.depth_m for each in thermometers]
    profile_c = np.full((grid_ms.size, depths_m.size), np.nan)
    if known:
        reached = (depths_m >= min(known) - 0.05) & (depths_m <= max(known) + 0.05)
        for column in np.flatnonzero(reached):
            profile_c[:, column] = wave_c(grid_ms, float(depths_m[column]), now_ms)
    profile_c[hole] = np.nan
    clove_m = of.bed.clove_depth_m
    cloves_c = profile_c[:, round(clove_m * 100)].copy() if clove_m is not None else np.full(grid_ms.size, np.nan)
    since_watering_days = ((grid_ms - now_ms) / DAY_MS + FULL_AFTER_DAYS) % 3.0
    depletion_mm = np.where(hole | (not moistures), np.nan, 0.5 + DRINKS_MM * since_watering_days)
    waterings = tuple((int(at), 61.0) for at in grid_ms[1:][np.diff(since_watering_days) < 0])
    return BedHistory(
        of.bed,
        from_ms,
        to_ms,
        now_ms,
        temperatures=tuple(series(each, wave_c(kept_ms, each.depth_m, now_ms)) for each in thermometers),
        moistures=tuple(series(each, 0.23 - 0.0004 * depletion_mm[~hole] / each.depth_m) for each in moistures),
        grid_ms=grid_ms,
        cloves_c=cloves_c,
        grid_depths_m=depths_m,
        profile_c=profile_c,
        depletion_mm=depletion_mm,
        waterings=waterings,
        outlook=ahead,
    )


def outlook(of: BedView, *, warmer_k: float = 0.0, cloth_k: float | None = -1.1, refill_mm: float = 10.8) -> Outlook:
    """What would come of such a bed: the same wave run on, `warmer_k` more with each day, and `cloth_k` less with its cloth."""
    now_ms = of.state.now_ms
    made_ms = now_ms - 10 * MINUTE_MS
    time_ms = (made_ms // HOUR_MS + 1 + np.arange(168, dtype=np.int64)) * HOUR_MS
    days = (time_ms - now_ms) / DAY_MS
    warming_k = warmer_k * np.clip(days, 0, 3)

    def course_c(depth_m: float) -> np.ndarray:
        return wave_c(time_ms, depth_m, now_ms) + np.exp(-depth_m / 0.2) * warming_k

    def mean_c(shift_k: np.ndarray) -> np.ndarray:
        hours = np.arange(-23, 1)[:, None]
        faded_k = np.exp(-clove_m / 0.2) * warming_k
        return np.mean([wave_c(time_ms + hour * HOUR_MS, clove_m, now_ms) for hour in hours], axis=0) + faded_k + shift_k

    clove_m = of.bed.clove_depth_m
    thermometers, moistures = (of.bed.probes_of(Quantity.SOIL_TEMPERATURE), of.bed.probes_of(Quantity.SOIL_MOISTURE))
    temperature = water = None
    if thermometers:
        depths_m = np.array(sorted({each.depth_m for each in thermometers} | ({clove_m} if clove_m is not None else set())))
        cloves_c = np.full(time_ms.size, np.nan) if clove_m is None else course_c(clove_m)
        half_band_k = 0.3 + 0.12 * np.clip(days, 0, None)
        with_cloth = cloth_k is not None and clove_m is not None
        cooling_k = (cloth_k or 0.0) * np.clip(days, 0, 1)
        temperature = TemperatureAhead(
            time_ms,
            depths_m,
            np.column_stack([course_c(float(depth_m)) for depth_m in depths_m]),
            cloves_c,
            cloves_c - half_band_k,
            cloves_c + half_band_k,
            np.full(time_ms.size, np.nan) if clove_m is None else mean_c(np.zeros(time_ms.size)),
            cloth_share=0.5 if with_cloth else None,
            with_cloth_c=cloves_c + cooling_k if with_cloth else None,
            with_cloth_mean_c=mean_c(cooling_k) if with_cloth else None,
        )
    if moistures:
        depletion_mm = 0.5 + DRINKS_MM * (days + FULL_AFTER_DAYS)

        def reached_ms(short_mm: np.ndarray) -> int | None:
            over = np.flatnonzero(short_mm >= refill_mm)
            return int(time_ms[over[0]]) if over.size else None

        low_mm, high_mm = depletion_mm - 0.5 - 0.4 * days, depletion_mm + 0.5 + 0.4 * days
        moments = [reached_ms(short_mm) for short_mm in (depletion_mm, high_mm, low_mm)]
        water = WaterAhead(time_ms, depletion_mm, low_mm, high_mm, np.full(168, refill_mm), *moments, demand=0.9)
    return Outlook(of.bed.id, made_ms, temperature, water, "a public forecast", 5.2e-7)
