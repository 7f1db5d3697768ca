"""The filter of the root zone: it learns what a bed drinks, and says when the bed will have drunk enough."""

from __future__ import annotations

import math

import numpy as np
import pytest

from collector.soil import dry_down
from collector.soil.arrays import Array
from collector.soil.root_zone import RootZone, pass_step

DAY, HOUR = dry_down.DAY_MS, dry_down.DAY_MS // 24
LOAM = RootZone(0.25, 0.12, 0.30)  # TAW 39 mm, RAW 11.7 mm at 5 mm/d
NOON = np.maximum(np.sin((np.arange(24) - 6) / 12 * np.pi), 0.0)
SHAPE = NOON / NOON.sum()


def world(
    days: int, factor: float, rain: dict[int, float] | None = None, reference_mm_d: float = 4.0
) -> tuple[Array, Array, Array]:
    """Hours of a bed that drinks `factor` times the reference: its water by one probe, the reference and the rain."""
    reference, gain = np.tile(SHAPE * reference_mm_d, days), np.zeros(days * 24)
    for hour, amount_mm in (rain or {}).items():
        gain[hour] = amount_mm
    depletion_mm, out = 2.0, []
    for want_mm, gain_mm in zip(reference.tolist(), gain.tolist(), strict=True):
        depletion_mm = pass_step(LOAM, depletion_mm, factor * want_mm, gain_mm, 1 / 24, 0.34)
        out.append(0.25 - depletion_mm / 300.0)
    return np.array(out)[:, None], reference, gain


def hours(count: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.arange(1, count + 1, dtype=np.int64) * HOUR


WATERINGS = {72: 14.0, 150: 10.0, 220: 12.0}


@pytest.mark.parametrize("factor", [0.6, 1.0, 1.5])
def test_it_learns_how_much_the_bed_drinks(factor: float) -> None:
    moisture, reference, gain = world(12, factor, WATERINGS)
    state = dry_down.fit(LOAM, hours(288), [0.15], moisture, reference, gain)
    assert state.factor == pytest.approx(factor, rel=0.12)
    assert state.low_mm <= 300 * (0.25 - moisture[-1, 0]) <= state.high_mm


def test_water_that_nobody_told_of_is_seen_as_a_step_and_teaches_no_demand() -> None:
    moisture, reference, _ = world(12, 0.8, WATERINGS)
    state = dry_down.fit(LOAM, hours(288), [0.15], moisture, reference)
    assert state.factor == pytest.approx(0.8, rel=0.15)
    assert state.depletion_mm == pytest.approx(300 * (0.25 - moisture[-1, 0]), abs=1.0)


def test_with_no_weather_the_slope_of_the_last_days_goes_on() -> None:
    moisture, reference, gain = world(12, 0.9, WATERINGS)
    unknown = np.full(288, np.nan)
    state = dry_down.fit(LOAM, hours(288), [0.15], moisture, unknown, gain)
    path = dry_down.ahead(state, 2)
    truth = world(14, 0.9, WATERINGS)[0]
    assert path.depletion_mm[-1] == pytest.approx(300 * (0.25 - truth[-1, 0]), abs=1.5)
    assert path.depletion_mm[-1] > path.depletion_mm[0] > state.depletion_mm
    assert reference.sum() > 0.0


def test_the_hour_of_refilling_is_that_of_the_bed_itself() -> None:
    past, reference, gain = world(12, 1.0, WATERINGS)
    truth_mm = 300 * (0.25 - world(19, 1.0, WATERINGS)[0][288:, 0])
    state = dry_down.fit(LOAM, hours(288), [0.15], past, reference, gain)
    line_mm = float(truth_mm[40])  # a line that the bed crosses for sure, in the second day
    path = dry_down.ahead(state, 7, np.tile(SHAPE * 4.0, 7), line_mm=line_mm)
    true_ms = state.time_ms + HOUR * (1 + int(np.argmax(truth_mm >= line_mm)))
    assert path.refill_ms is not None
    assert path.early_ms is not None
    assert abs(path.refill_ms - true_ms) <= 4 * HOUR
    assert path.early_ms <= true_ms
    assert path.late_ms is None or path.late_ms >= true_ms
    assert path.early_ms <= path.refill_ms <= (path.late_ms or path.refill_ms)


def test_the_band_widens_with_the_days_and_with_silence() -> None:
    moisture, reference, gain = world(12, 1.0, WATERINGS)
    path = dry_down.ahead(dry_down.fit(LOAM, hours(288), [0.15], moisture, reference, gain), 3)
    widths = path.high_mm - path.low_mm
    assert widths[0] < widths[24] < widths[48]
    silent = moisture.copy()
    silent[-48:] = np.nan
    heard, unheard = (dry_down.fit(LOAM, hours(288), [0.15], table, reference, gain) for table in (moisture, silent))
    assert unheard.high_mm - unheard.low_mm > 2 * (heard.high_mm - heard.low_mm)


def test_rain_ahead_puts_off_the_refilling() -> None:
    moisture, reference, gain = world(10, 1.0, WATERINGS)
    state = dry_down.fit(LOAM, hours(240), [0.15], moisture, reference, gain)
    rain = np.zeros(7 * 24)
    rain[6] = 8.0
    dry, wet = dry_down.ahead(state, 7), dry_down.ahead(state, 7, gain_mm=rain)
    assert dry.refill_ms is not None
    assert wet.refill_ms is None or wet.refill_ms > dry.refill_ms + DAY
    assert (wet.depletion_mm <= dry.depletion_mm + 1e-9).all()


def test_the_refill_line_follows_the_demand() -> None:
    # Allen et al. 1998, FAO-56, Table 22, its note: p = 0.30 at 5 mm/d, 0.26 at 6 mm/d and 0.46 at 1 mm/d
    moisture, reference, gain = world(12, 1.0, WATERINGS)
    state = dry_down.fit(LOAM, hours(288), [0.15], moisture, reference, gain)
    for demand_mm_d, p in ((5.0, 0.30), (6.0, 0.26), (1.0, 0.46)):
        path = dry_down.ahead(state, 2, np.full(2, demand_mm_d / state.factor))
        assert path.refill_mm[24] == pytest.approx(p * 39.0, rel=1e-6)


def test_a_bed_at_the_line_already_is_due_now() -> None:
    moisture, reference, gain = world(12, 1.0)
    state = dry_down.fit(LOAM, hours(288), [0.15], moisture, reference, gain)
    assert dry_down.ahead(state, 1).refill_ms == state.time_ms


def test_a_bed_that_nothing_drinks_from_is_never_due() -> None:
    moisture, reference, gain = world(2, 1.0)
    state = dry_down.fit(LOAM, hours(48), [0.15], moisture, reference, gain)
    path = dry_down.ahead(state, 2, np.zeros(48), np.full(48, 0.1))
    assert (path.refill_ms, path.late_ms) == (None, None)


def test_readings_after_the_moment_change_nothing() -> None:
    moisture, reference, gain = world(12, 1.0, WATERINGS)
    whole = dry_down.fit(LOAM, hours(200), [0.15], moisture[:200], reference[:200], gain[:200])
    moisture[200:] = 0.05
    again = dry_down.fit(LOAM, hours(200), [0.15], moisture[:200], reference[:200], gain[:200])
    assert whole == again


def test_days_do_as_well_as_hours() -> None:
    moisture, _, _ = world(30, 0.7, dict.fromkeys(range(96, 720, 96), 12.0), reference_mm_d=5.0)
    by_day, times = moisture[23::24], np.arange(1, 31, dtype=np.int64) * DAY
    gain = np.zeros(30)
    gain[4::4] = 12.0
    state = dry_down.fit(LOAM, times, [0.15], by_day, np.full(30, 5.0), gain)
    assert state.factor == pytest.approx(0.7, rel=0.15)
    assert dry_down.ahead(state, 7).depletion_mm.shape == (7,)


def test_one_reading_is_enough_and_says_so_by_its_band() -> None:
    moisture = np.full((5, 1), np.nan)
    moisture[1, 0] = 0.22
    state = dry_down.fit(LOAM, hours(5), [0.15], moisture, np.full(5, np.nan))
    path = dry_down.ahead(state, 7)
    assert state.depletion_mm == pytest.approx(9.0, abs=1.0)
    assert path.high_mm[72] - path.low_mm[72] > 5.0


def test_times_that_are_no_grid_are_refused() -> None:
    for times in ([1, 2, 4], [3, 2, 1], [1], [0, 2 * DAY], [0, 7 * HOUR], [1, 1, 1]):
        grid = np.array(times, dtype=np.int64)
        with pytest.raises(ValueError, match="put the readings on such a grid first"):
            dry_down.fit(LOAM, grid, [0.15], np.full((grid.size, 1), 0.2), np.ones(grid.size))


def test_tables_that_cannot_be_are_refused() -> None:
    table, ones = np.full((3, 1), 0.2), np.ones(3)
    with pytest.raises(ValueError, match="one row for each time"):
        dry_down.fit(LOAM, hours(3), [0.15], table[:2], ones)
    with pytest.raises(ValueError, match=r"gain_mm holds -1\.0; want 0 or more"):
        dry_down.fit(LOAM, hours(3), [0.15], table, ones, np.array([0.0, -1.0, 0.0]))
    with pytest.raises(ValueError, match="reference_mm holds inf"):
        dry_down.fit(LOAM, hours(3), [0.15], table, np.array([1.0, math.inf, 1.0]))
    with pytest.raises(ValueError, match=r"reference_mm has shape \(2,\)"):
        dry_down.fit(LOAM, hours(3), [0.15], table, ones[:2])
    with pytest.raises(ValueError, match="moisture holds no reading"):
        dry_down.fit(LOAM, hours(3), [0.15], table * np.nan, ones)
    state = dry_down.fit(LOAM, hours(3), [0.15], table, ones)
    with pytest.raises(ValueError, match="days is 0; want 1 or more"):
        dry_down.ahead(state, 0)
    with pytest.raises(ValueError, match=r"gain_mm has shape \(5,\); want \(48,\)"):
        dry_down.ahead(state, 2, gain_mm=np.zeros(5))
