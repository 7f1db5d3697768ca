"""What the probes of a fake bed would have said over a span. The numbers are invented."""

from __future__ import annotations

import numpy as np

from collector.model import Probe, Series
from collector.query import BedHistory, BedView, Heard
from collector.units import Quantity

MINUTE_MS, DAY_MS = 60_000, 86_400_000


def wave_c(time_ms: np.ndarray, depth_m: float, now_ms: int) -> np.ndarray:
    """A daily wave that fades and lags with depth over a slow rise: made up, but shaped like soil."""
    days = (time_ms - now_ms) / DAY_MS
    damping_m = 0.11
    fade = np.exp(-depth_m / damping_m)
    return 17.2 + 0.5 * days - 4 * depth_m + 3.5 * fade * np.sin(2 * np.pi * (days - 0.05) - depth_m / damping_m)


def history(
    of: BedView, from_ms: int, to_ms: int, *, step_ms: int = 10 * MINUTE_MS, gap: tuple[int, int] | None = None
) -> BedHistory:
    """What the probes of a bed would have said in that span; nothing inside `gap` [ms], nothing after now."""
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
    since_watering_days = ((grid_ms - now_ms) / DAY_MS + 2.4) % 3.0
    depletion_mm = np.where(hole | (not moistures), np.nan, 0.5 + 4.1 * since_watering_days)
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
    )
