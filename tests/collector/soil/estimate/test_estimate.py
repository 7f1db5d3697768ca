"""Temperature at every depth, against waves in uniform ground that are known everywhere."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from collector.soil.estimate.filter import Estimator
from collector.soil.estimate.ground import COLUMN_M, TICK_MS, ground_of
from collector.soil.estimate.season import Thermometer, history, moments_of, temperatures_at
from tests.collector.soil.estimate.ground import DAY_MS, DIFFUSIVITY_M2_S, HOUR_MS, changed, stake, times_ms, truth_c

NOW_MS = 14 * DAY_MS - HOUR_MS


def rmse_k(thermometers, depth_m, days=20.0):
    grid_ms = times_ms(days)[10 * 24 :]
    told = history(thermometers, grid_ms, np.array([depth_m]))
    off_k = told.temperature_c[:, 0] - truth_c(grid_ms, depth_m)
    held = np.mean(np.abs(off_k) < told.half_band_k[:, 0])
    return float(np.sqrt(np.mean(off_k**2))), float(held), float(told.half_band_k.mean())


# ------------------------------------------------------------ it knows the soil


def test_a_depth_between_probes_is_told_within_a_quarter_of_a_degree_and_within_its_band():
    off_k, held, _ = rmse_k(stake((0.05, 0.10, 0.20, 0.40), times_ms(20)), 0.15)
    assert off_k < 0.25
    assert held >= 0.8


def test_the_model_beats_a_straight_line_between_far_probes():
    thermometers = stake((0.05, 0.40), times_ms(20))
    grid_ms = times_ms(20)[10 * 24 :]
    line_c = truth_c(grid_ms, 0.05) + (truth_c(grid_ms, 0.40) - truth_c(grid_ms, 0.05)) * (0.15 - 0.05) / 0.35
    line_off_k = float(np.sqrt(np.mean((line_c - truth_c(grid_ms, 0.15)) ** 2)))
    assert rmse_k(thermometers, 0.15)[0] < 0.5 * line_off_k


def test_one_probe_tells_other_depths_with_a_band_that_widens_away_from_it():
    thermometers = stake((0.10,), times_ms(20))
    bands_k = [rmse_k(thermometers, depth_m)[2] for depth_m in (0.20, 0.40, 0.80)]
    assert bands_k == sorted(bands_k)
    off_k, held, _ = rmse_k(thermometers, 0.20)
    assert off_k < 1.0
    assert held > 0.75


def test_above_the_shallowest_probe_the_band_is_wider_the_nearer_the_surface():
    told = temperatures_at(stake((0.10, 0.20), times_ms(14)), NOW_MS)
    assert told is not None
    _, half_band_k = told.over(np.array([0.0, 0.03, 0.06, 0.10]))
    assert (np.diff(half_band_k) < 0).all()
    assert half_band_k[0] > 2 * half_band_k[-1]


def test_the_diffusivity_of_the_ground_is_among_the_likely_ones():
    told = temperatures_at(stake((0.05, 0.10, 0.20, 0.40), times_ms(14)), NOW_MS)
    assert told is not None
    assert told.diffusivity_m2_s == pytest.approx(DIFFUSIVITY_M2_S, rel=0.35)


def test_a_probe_with_an_offset_among_others_is_not_taken_at_its_word():
    honest = stake((0.05, 0.10, 0.20, 0.40), times_ms(20))
    wrong = [*honest[:2], changed(honest[2], honest[2].value_c + 0.8), honest[3]]
    grid_ms = times_ms(20)[15 * 24 :]
    told = history(wrong, grid_ms, np.array([0.20])).temperature_c[:, 0]
    assert abs(float(np.mean(told - truth_c(grid_ms, 0.20)))) < 0.6


def test_a_gap_widens_the_band_and_the_estimate_recovers_after_it():
    time_ms = times_ms(20)
    silent = (time_ms > 12 * DAY_MS) & (time_ms < 14 * DAY_MS)
    gappy = [changed(one, np.where(silent, np.nan, one.value_c)) for one in stake((0.05, 0.20), time_ms)]
    grid_ms = np.array([12 * DAY_MS, 14 * DAY_MS - HOUR_MS, 18 * DAY_MS], dtype=np.int64)
    told = history(gappy, grid_ms, np.array([0.10]))
    before_k, within_k, after_k = told.half_band_k[:, 0]
    assert within_k > 1.5 * before_k
    assert after_k < 1.2 * before_k
    assert abs(told.temperature_c[2, 0] - truth_c(grid_ms[2:], 0.10)[0]) < 0.5


def test_irregular_times_of_each_probe_tell_as_much_as_regular_ones():
    luck = np.random.default_rng(5)
    uneven = [
        Thermometer(depth_m, at_ms := np.sort(luck.integers(0, 20 * DAY_MS, 20 * 48)).astype(np.int64), truth_c(at_ms, depth_m))
        for depth_m in (0.05, 0.20, 0.40)
    ]
    assert rmse_k(uneven, 0.12)[0] < 0.45


def test_a_wild_reading_hardly_moves_the_estimate():
    honest = stake((0.05, 0.10, 0.20), times_ms(14))
    value_c = honest[1].value_c.copy()
    value_c[-1] = 60.0
    calm, wild = (temperatures_at(probes, NOW_MS) for probes in (honest, [honest[0], changed(honest[1], value_c), honest[2]]))
    assert calm is not None
    assert wild is not None
    assert wild.over(np.array([0.15]))[0][0] == pytest.approx(calm.over(np.array([0.15]))[0][0], abs=0.5)


# ------------------------------------------------------------ it answers as a profile does


def test_at_a_probe_that_spoke_it_answers_what_the_probe_says_as_measured():
    thermometers = stake((0.05, 0.20), times_ms(14))
    told = temperatures_at(thermometers, NOW_MS)
    assert told is not None
    estimate = told.at(0.20)
    assert estimate is not None
    assert estimate.measured
    assert estimate.value == pytest.approx(thermometers[1].value_c[-1], abs=0.2)
    assert told.depths_m == (0.05, 0.20)
    assert told.values == pytest.approx([one.value_c[-1] for one in thermometers], abs=0.4)


def test_a_probe_that_is_silent_for_hours_is_no_longer_measured():
    told = temperatures_at(stake((0.05, 0.20), times_ms(14)), NOW_MS + 5 * HOUR_MS)
    assert told is not None
    estimate = told.at(0.20)
    assert estimate is not None
    assert not estimate.measured
    assert told.depths_m == ()
    assert told.crossings(15.0) == ()


def test_outside_the_column_nothing_is_told():
    told = temperatures_at(stake((0.05,), times_ms(3)), 3 * DAY_MS)
    assert told is not None
    assert [told.at(depth_m) for depth_m in (-0.01, COLUMN_M + 0.01, math.nan)] == [None, None, None]
    with pytest.raises(ValueError, match="want depths from 0"):
        told.over(np.array([0.1, 2.0]))


def test_the_soil_crosses_a_limit_where_it_is_as_warm_as_the_limit():
    told = temperatures_at(stake((0.05, 0.10, 0.20, 0.40), times_ms(14)), NOW_MS)
    assert told is not None
    span_c = told.over(np.array([0.05, 0.40]))[0]
    limit_c = float(span_c.mean())
    crossings_m = told.crossings(limit_c)
    assert crossings_m
    assert list(crossings_m) == sorted(crossings_m)
    for depth_m in crossings_m:
        assert told.over(np.array([depth_m]))[0][0] == pytest.approx(limit_c, abs=0.15)
    assert told.crossings(80.0) == ()


def test_two_probes_at_one_depth_are_two_opinions_of_it():
    time_ms = times_ms(14)
    one, other = (
        changed(probe, probe.value_c + offset_k) for probe, offset_k in zip(stake((0.2, 0.2), time_ms), (0.3, -0.3), strict=True)
    )
    told = temperatures_at([*stake((0.05,), time_ms), one, other], NOW_MS)
    assert told is not None
    estimate = told.at(0.20)
    assert estimate is not None
    assert estimate.value == pytest.approx((one.value_c[-1] + other.value_c[-1]) / 2, abs=0.15)
    assert told.depths_m == (0.05, 0.20)


# ------------------------------------------------------------ what it is given


def test_before_any_reading_nothing_is_known():
    nothing = Thermometer(0.1, np.array([], dtype=np.int64), np.array([]))
    assert temperatures_at([nothing], DAY_MS) is None
    assert temperatures_at(stake((0.1,), times_ms(2) + 5 * DAY_MS), DAY_MS) is None
    grid_ms = np.array([0, 6 * DAY_MS], dtype=np.int64)
    told = history(stake((0.1,), times_ms(2) + 5 * DAY_MS), grid_ms, np.array([0.1]))
    assert np.isnan(told.temperature_c[0, 0])
    assert np.isfinite(told.temperature_c[1, 0])


def test_a_nan_is_a_missing_reading():
    time_ms = times_ms(14)
    whole = stake((0.05, 0.20), time_ms)
    missing = np.zeros(time_ms.size, dtype=bool)
    missing[100:200] = True
    with_nan = [changed(whole[0], np.where(missing, np.nan, whole[0].value_c)), whole[1]]
    without = [Thermometer(0.05, time_ms[~missing], whole[0].value_c[~missing]), whole[1]]
    one, other = (temperatures_at(probes, NOW_MS) for probes in (with_nan, without))
    assert one is not None
    assert other is not None
    np.testing.assert_allclose(one.over(np.array([0.1]))[0], other.over(np.array([0.1]))[0])


@pytest.mark.parametrize("depths_m", [(), (0.1, 1.6), (-0.05,), (math.nan,)])
def test_no_probe_or_one_outside_the_column_is_refused(depths_m):
    with pytest.raises(ValueError, match="want one or more depths from 0"):
        Estimator(depths_m)


def test_unsorted_times_infinite_values_and_uneven_arrays_are_refused():
    with pytest.raises(ValueError, match="time 1 is before"):
        Thermometer(0.1, np.array([2, 1]), np.array([1.0, 2.0]))
    with pytest.raises(ValueError, match="infinite"):
        Thermometer(0.1, np.array([1, 2]), np.array([1.0, math.inf]))
    with pytest.raises(ValueError, match="want equal"):
        Thermometer(0.1, np.array([1, 2]), np.array([1.0]))
    with pytest.raises(ValueError, match="does not ascend"):
        history(stake((0.1,), times_ms(1)), np.array([5, 1]), np.array([0.1]))
    with pytest.raises(ValueError, match="multiple"):
        moments_of(stake((0.1,), times_ms(1)), 700_000)


def test_a_reading_from_before_the_last_one_is_refused_and_nothing_changes():
    estimator = Estimator([0.1])
    estimator.hear(DAY_MS, np.array([10.0]))
    with pytest.raises(ValueError, match="in the order"):
        estimator.hear(0, np.array([11.0]))
    with pytest.raises(ValueError, match="one value for each"):
        estimator.hear(DAY_MS, np.array([11.0, 12.0]))
    told = estimator.estimate(DAY_MS)
    assert told is not None
    assert told.values == pytest.approx([10.0], abs=0.01)


def test_to_ask_about_later_changes_nothing():
    estimator = Estimator([0.05, 0.2])
    for at_ms in range(0, 3 * DAY_MS, HOUR_MS):
        estimator.hear(at_ms, np.array([12.0, 11.0]))
    before = estimator.estimate(3 * DAY_MS)
    estimator.estimate(9 * DAY_MS)
    estimator.compare(9 * DAY_MS, np.array([30.0, 30.0]))
    after = estimator.estimate(3 * DAY_MS)
    assert before is not None
    assert after is not None
    np.testing.assert_array_equal(before.state, after.state)
    np.testing.assert_array_equal(before.covariance, after.covariance)


def test_moments_gather_what_the_probes_said_nearest_to_them():
    one = Thermometer(0.1, np.array([0, 100_000, 600_000]), np.array([10.0, 12.0, 20.0]))
    other = Thermometer(0.2, np.array([650_000]), np.array([5.0]))
    moments = moments_of([one, other])
    assert moments.time_ms.tolist() == [0, TICK_MS]
    np.testing.assert_array_equal(moments.values_c, [[11.0, np.nan], [20.0, 5.0]])


# ------------------------------------------------------------ the mathematics


def test_a_gap_crossed_in_one_go_is_the_same_as_tick_by_tick():
    one, other = Estimator([0.05, 0.2]), Estimator([0.05, 0.2])
    silence = np.array([np.nan, np.nan])
    for estimator in (one, other):
        estimator.hear(0, np.array([14.0, 11.0]))
    for tick in range(1, 101):
        one.hear(tick * TICK_MS, silence)
    a, b = one.estimate(100 * TICK_MS), other.estimate(100 * TICK_MS)
    assert a is not None
    assert b is not None
    np.testing.assert_allclose(a.state, b.state, rtol=1e-9)
    np.testing.assert_allclose(a.covariance, b.covariance, rtol=1e-6, atol=1e-9)


def test_soil_that_is_as_warm_everywhere_stays_so():
    ground = ground_of((0.1,))
    state = np.zeros(ground.start.shape[0])
    state[: ground.cells + 1] = 12.0  # the cells, and the level of the surface
    for step in ground.step:
        np.testing.assert_allclose((step @ state)[: ground.cells], 12.0, atol=1e-9)


@pytest.mark.parametrize("member", [0, 2, 4])
def test_the_step_damps_a_wave_as_the_ground_does(member):
    """A surface driven by a wave of the day: height and lag at 10 cm are exp(-z/d) and z/d (Carslaw & Jaeger 1959)."""
    ground = ground_of((0.1,))
    turn_per_s = 2 * math.pi / 86_400
    state = np.zeros(ground.start.shape[0])
    at_10_cm = ground.rows(np.array([0.1]))[0]
    said = []
    for tick in range(6 * 144):
        angle = turn_per_s * tick * TICK_MS / 1000
        state[ground.cells + 2 : ground.cells + 4] = 5 * math.cos(angle), -5 * math.sin(angle)
        said.append(at_10_cm @ state)
        state = ground.step[member] @ state
    last = np.array(said[-144:])
    ticks = np.arange(5 * 144, 6 * 144)
    wave = 2 * np.mean(last * np.exp(-1j * turn_per_s * ticks * TICK_MS / 1000))
    steps = 0.1 * math.sqrt(turn_per_s / (2 * ground.diffusivities_m2_s[member]))
    assert abs(wave) == pytest.approx(5 * math.exp(-steps), rel=0.05)
    assert -np.angle(wave) == pytest.approx(steps, abs=0.05)


def test_one_reading_is_taken_in_within_a_millisecond():
    estimator = Estimator([0.05, 0.1, 0.2, 0.4])
    values_c = np.array([15.0, 14.0, 13.0, 12.0])
    took_s = []
    for tick in range(200):
        begun_s = time.perf_counter()
        estimator.hear(tick * TICK_MS, values_c)
        took_s.append(time.perf_counter() - begun_s)
    assert sorted(took_s)[20] < 0.001  # the quickest tenth: other work on the machine is not its fault
