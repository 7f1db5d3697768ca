"""What the readings of a bed tell of it at one moment."""

import math

import numpy as np
import pytest

from collector.advice.grids import on_grid
from collector.advice.state import grid_of, state_of
from collector.model import Flag, Series
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakeReadings, M, T, bed, every, probe, state

T5, T12, T20, M15 = probe(T, 0.05), probe(T, 0.12), probe(T, 0.20), probe(M, 0.15)
TWO_DAYS = every(10 * MINUTE_MS, NOW_MS - 2 * DAY_MS, NOW_MS)


def said(*words):
    """FakeReadings of (probe, value or function of time, times)."""
    readings = FakeReadings()
    for of, value, times in words:
        readings.say(of, value, *times)
    return readings


# ---------------------------------------------------------------- now


def test_a_thermometer_within_a_centimetre_of_the_clove_is_its_temperature():
    now = state(bed(clove_m=0.13), said((T5, 20.0, [NOW_MS]), (T12, 17.0, [NOW_MS]), (T20, 15.0, [NOW_MS])))
    assert (now.clove.value, now.clove.measured) == (17.0, True)


def test_between_two_thermometers_the_clove_is_worked_out_by_its_share_of_the_way():
    now = state(bed(thermometers_m=(0.05, 0.20), clove_m=0.11), said((T5, 20.0, [NOW_MS]), (T20, 15.0, [NOW_MS])))
    assert now.clove.value == pytest.approx(20.0 - 5.0 * 6 / 15)
    assert not now.clove.measured


def test_a_clove_out_of_reach_of_every_thermometer_is_not_known():
    assert state(bed(thermometers_m=(0.05,), clove_m=0.12), said((T5, 20.0, [NOW_MS]))).clove is None


def test_a_bed_with_no_planting_has_no_clove_to_know_of():
    assert state(bed(clove_m=None), said((T12, 17.0, [NOW_MS]))).clove is None


@pytest.mark.parametrize(("age_ms", "known"), [(3 * HOUR_MS, True), (3 * HOUR_MS + 1, False)])
def test_a_temperature_speaks_of_now_for_three_hours(age_ms, known):
    now = state(bed(), said((T12, 17.0, [NOW_MS - age_ms])))
    assert (now.temperature is not None) is known
    assert now.temperature_heard_ms == NOW_MS - age_ms


@pytest.mark.parametrize(("age_ms", "known"), [(12 * HOUR_MS, True), (12 * HOUR_MS + 1, False)])
def test_a_moisture_speaks_of_now_for_twelve_hours(age_ms, known):
    now = state(bed(), said((M15, 0.2, [NOW_MS - age_ms])))
    assert (now.water is not None) is known
    assert now.moisture_heard_ms == NOW_MS - age_ms


def test_a_distrusted_reading_tells_nothing_of_the_soil_but_is_heard():
    readings = said((T12, 17.0, [NOW_MS - HOUR_MS]))
    readings.say(T12, 85.0, NOW_MS, flags=Flag.RESET_VALUE)
    now = state(bed(), readings)
    assert now.clove.value == 17.0
    assert (now.temperature_heard_ms, now.heard_ms) == (NOW_MS - HOUR_MS, NOW_MS)


def test_a_reading_dated_in_the_future_neither_speaks_of_now_nor_hides_a_silence():
    readings = said((T12, 17.0, [NOW_MS - DAY_MS]))
    ahead = readings.said[T12.id][NOW_MS - DAY_MS]
    latest = {T12.id: type(ahead)(T12.id, NOW_MS + DAY_MS, 40.0, 40.0, NOW_MS - 5 * HOUR_MS, Flag.FUTURE)}
    readings.say(T12, 40.0, NOW_MS + DAY_MS, flags=Flag.FUTURE)
    series = {T12.id: readings.series(T12.id, 0, 1 << 62)}
    now = state_of(bed(), series, latest, NOW_MS)
    assert now.temperature is None
    assert now.heard_ms == NOW_MS - 5 * HOUR_MS


def test_a_silence_longer_than_the_series_still_has_its_beginning():
    long_ago_ms = NOW_MS - 30 * DAY_MS
    readings = said((T12, 17.0, [long_ago_ms]))
    now = state_of(bed(), {T12.id: readings.series(T12.id, NOW_MS - 2 * DAY_MS, NOW_MS)}, readings.latest(), NOW_MS)
    assert now.heard_ms == now.temperature_heard_ms == long_ago_ms


def test_an_empty_bed_is_not_known_and_not_zero():
    now = state(bed(), FakeReadings())
    assert (now.temperature, now.moisture, now.clove, now.clove_mean_c, now.water) == (None, None, None, None, None)
    assert (now.heard_ms, now.clove_mean_cover) == (None, 0.0)


# ---------------------------------------------------------------- the daily mean


def test_a_whole_wave_has_the_mean_it_swings_about():
    def wave(at_ms):
        return 17.0 + 3.0 * math.sin(2 * math.pi * at_ms / DAY_MS)

    now = state(bed(), said((T12, wave, TWO_DAYS)))
    assert now.clove_mean_c == pytest.approx(17.0, abs=0.02)
    assert now.clove_mean_cover == 1.0


def test_the_mean_of_the_day_before_is_its_own():
    now = state(bed(), said((T12, lambda at_ms: 19.0 if at_ms > NOW_MS - DAY_MS else 16.0, TWO_DAYS)))
    # The step of 3 K between the two days is spread over one of the 144 intervals of ten minutes.
    assert (now.clove_mean_c, now.clove_mean_before_c) == (pytest.approx(19.0, abs=3.0 / 144), pytest.approx(16.0))


def test_a_gap_of_two_hours_is_bridged_and_a_longer_one_is_not():
    series = Series("t", np.array([0, 2 * HOUR_MS, 4 * HOUR_MS + 1]), np.array([10.0, 14.0, 18.0]), np.zeros(3, np.int64))
    grid = np.array([-1, 0, HOUR_MS, 2 * HOUR_MS, 3 * HOUR_MS, 4 * HOUR_MS + 1, 5 * HOUR_MS])
    bridged = on_grid(series, grid, 2 * HOUR_MS)
    assert bridged.tolist() == pytest.approx([math.nan, 10.0, 12.0, 14.0, math.nan, 18.0, math.nan], nan_ok=True)


def test_a_mean_of_less_than_three_quarters_of_the_day_is_not_known():
    almost = said((T12, 17.0, every(10 * MINUTE_MS, NOW_MS - 17 * HOUR_MS, NOW_MS)))
    enough = said((T12, 17.0, every(10 * MINUTE_MS, NOW_MS - 19 * HOUR_MS, NOW_MS)))
    assert (state(bed(), almost).clove_mean_c, state(bed(), enough).clove_mean_c) == (None, 17.0)
    assert state(bed(), almost).clove_mean_cover == pytest.approx(17 / 24, abs=0.01)


def test_while_the_thermometer_at_the_clove_is_away_its_neighbours_stand_in():
    gap = [at_ms for at_ms in TWO_DAYS if not NOW_MS - 12 * HOUR_MS < at_ms < NOW_MS - 2 * HOUR_MS]
    readings = said((T5, 21.0, TWO_DAYS), (T12, 17.0, gap), (T20, 13.0, TWO_DAYS))
    now = state(bed(), readings)
    stood_in_c = 21.0 - 8.0 * 7 / 15
    assert now.clove_mean_cover == 1.0
    assert now.clove_mean_c == pytest.approx((14 * 17.0 + 10 * stood_in_c) / 24, abs=0.01)


# ---------------------------------------------------------------- water


def test_depletion_is_worked_out_as_fao_56_does():
    """Allen et al. 1998, FAO-56, eq. 82, 83, 87 with p of garlic (Table 22, p. 163) and a sandy loam (Table 19, p. 144)."""
    water = state(bed(), said((M15, 0.20, [NOW_MS]))).water
    assert water.taw_mm == pytest.approx(1000 * (0.23 - 0.11) * 0.30)
    assert water.raw_mm == pytest.approx(0.30 * 36.0)
    assert water.depletion_mm == pytest.approx(1000 * (0.23 - 0.20) * 0.30)


# ---------------------------------------------------------------- through time


def test_the_history_grid_and_the_state_tell_the_same():
    readings = said((T5, 21.0, TWO_DAYS), (T20, 13.0, TWO_DAYS), (M15, 0.2, TWO_DAYS))
    lone = bed(thermometers_m=(0.05, 0.20))
    series = {one.id: readings.series(one.id, 0, 1 << 62) for one in lone.probes}
    grid = grid_of(lone, series, np.array([NOW_MS - HOUR_MS, NOW_MS]), np.array([0.0, 0.05, 0.20, 0.26]))
    now = state(lone, readings)
    assert grid.cloves_c.tolist() == pytest.approx([now.clove.value] * 2)
    assert grid.depletion_mm.tolist() == pytest.approx([now.water.depletion_mm] * 2)
    assert grid.profile_c[1].tolist() == pytest.approx([21.0, 21.0, 13.0, math.nan], nan_ok=True)


def test_the_history_grid_of_a_bed_that_never_spoke_is_all_not_known():
    grid = grid_of(bed(), {}, np.array([NOW_MS, NOW_MS + 1]), np.array([0.0, 0.1, 0.2]))
    assert grid.profile_c.shape == (2, 3)
    assert np.isnan(grid.profile_c).all()
    assert np.isnan(grid.cloves_c).all()
    assert np.isnan(grid.depletion_mm).all()
