"""What one change does to the soil: what must hold under any weather, and against the same column in small steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.soil import heat
from collector.soil.arrays import Array
from collector.soil.exposure import Exposure, exposure_of
from collector.soil.forecast.inputs import DAY_H, HOUR_MS, Weather
from collector.soil.ground import Ground, seen_at
from collector.soil.profile import profile_of
from collector.soil.what_if import (
    Change,
    Cloth,
    Covers,
    PlantingDepth,
    Today,
    Watering,
    difference_k,
    profile_difference_k,
    today_of,
)
from tests.collector.soil.forecast import made

WEEK_H = 7 * DAY_H
NOW_MS = made.START_MS + 12 * DAY_H * HOUR_MS  # midnight UTC, and about that of the sun there
DEPTHS_M = (0.0, 0.05, 0.10, 0.20, 0.40)

weathers = st.integers(1, 10_000).map(lambda seed: exposure_of(made.weather(20, seed), made.SITE, NOW_MS, WEEK_H))
thicknesses = st.sampled_from([0.0, 0.03, 0.08, 0.15])
grounds = st.builds(
    lambda straw_m, water, texture: Ground(texture, water, (("straw", straw_m),)),
    thicknesses, st.floats(0.08, 0.35), st.sampled_from(["sandy loam", "loam", "clay"]),
)  # fmt: skip


def by_day(hourly: Array) -> Array:
    """The same as days by hours, and so on."""
    return hourly.reshape(-1, DAY_H, *hourly.shape[1:])


def course_c(today: Today, change: Change, depths_m: tuple[float, ...]) -> Array:
    """Temperatures with the change, h by d."""
    return today.coming_c @ seen_at(today.column, np.array(depths_m)).T + profile_difference_k(today, change, depths_m)


# ---------------------------------------------------------------- a cloth


@settings(max_examples=25, deadline=None)
@given(weathers, grounds, st.floats(0.0, 0.5), st.floats(0.05, 0.5))
def test_a_cloth_never_warms_any_hour_or_depth_by_what_it_takes_of_the_sun(
    exposure: Exposure, ground: Ground, lies: float, more: float
) -> None:
    # without a sky to hide, the sun is all that a cloth takes: then no hour is warmer, by night or by day
    no_sky = replace(exposure, sky_loss_w_m2=np.zeros(exposure.sky_loss_w_m2.size))
    effect_k = profile_difference_k(today_of(replace(ground, cloth=lies), no_sky), Cloth(lies + more), DEPTHS_M)
    assert effect_k.max() <= 1e-9
    assert effect_k.min() < -0.01


@settings(max_examples=25, deadline=None)
@given(weathers, grounds, st.floats(0.1, 0.9))
def test_under_a_sky_that_it_also_hides_a_cloth_never_raises_the_mean_or_the_peak_of_a_day(
    exposure: Exposure, ground: Ground, share: float
) -> None:
    today = today_of(ground, exposure)
    effect_k = by_day(profile_difference_k(today, Cloth(share), DEPTHS_M))
    assert effect_k.mean(axis=1).max() <= 1e-9
    without_c, with_c = by_day(course_c(today, Cloth(0.0), DEPTHS_M)), by_day(course_c(today, Cloth(share), DEPTHS_M))
    # the bare surface peaks at noon; deep soil may peak at midnight, after a night under cover, by a hundredth of a degree
    assert (with_c.max(axis=1) - without_c.max(axis=1)).max() <= 0.01


@settings(max_examples=25, deadline=None)
@given(weathers, grounds, st.floats(0.0, 0.8), st.floats(0.05, 0.2))
def test_more_shade_cools_more_in_just_its_share(exposure: Exposure, ground: Ground, share: float, more: float) -> None:
    today = today_of(ground, exposure)
    less_k, more_k = (by_day(profile_difference_k(today, Cloth(one), DEPTHS_M)).mean(axis=1) for one in (share, share + more))
    assert (more_k[1:] < less_k[1:]).all()
    whole_k = profile_difference_k(today, Cloth(1.0), DEPTHS_M)
    assert profile_difference_k(today, Cloth(share), DEPTHS_M) == pytest.approx(share * whole_k, abs=1e-8)


def test_at_night_a_cloth_that_hides_the_sky_may_warm_the_surface() -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS - 4 * HOUR_MS, WEEK_H)
    first_hours_k = difference_k(today_of(Ground("loam", 0.2), exposure), Cloth(0.5), 0.0)[:4]
    assert 0.0 < first_hours_k.max() < 2.0


def test_the_effect_of_a_cloth_counts_the_mulch_below_it() -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS, WEEK_H)
    effects_k = [
        difference_k(today_of(Ground("loam", 0.2, (("straw", straw_m),)), exposure), Cloth(0.5), 0.10)[-DAY_H:]
        for straw_m in (0.0, 0.03, 0.08, 0.16)
    ]
    peaks = [float(one.min()) for one in effects_k]
    assert peaks == sorted(peaks)
    assert peaks[0] < 1.5 * peaks[2] < -0.5


@pytest.mark.parametrize("no_air", [True, False])
def test_without_any_weather_the_effect_of_a_cloth_is_much_the_same(no_air: bool) -> None:
    ground, air = Ground("loam", 0.2, (("straw", 0.08),)), made.weather(20)
    known_k = difference_k(today_of(ground, exposure_of(air, made.SITE, NOW_MS, WEEK_H)), Cloth(0.5), 0.10)
    rest = Weather() if no_air else Weather(air.time_ms, {"air_temperature_c": air.columns["air_temperature_c"]})
    guessed_k = difference_k(today_of(ground, exposure_of(rest, made.SITE, NOW_MS, WEEK_H)), Cloth(0.5), 0.10)
    assert guessed_k[-DAY_H:].mean() == pytest.approx(known_k[-DAY_H:].mean(), rel=0.5)


# ---------------------------------------------------------------- covers, depth, water


@settings(max_examples=25, deadline=None)
@given(weathers, grounds, st.floats(0.01, 0.10), st.sampled_from([0.03, 0.05, 0.10, 0.20]))
def test_a_thicker_straw_never_raises_the_daily_amplitude_below_it(
    exposure: Exposure, ground: Ground, more_m: float, depth_m: float
) -> None:
    straw_m = ground.covers[0][1]
    today = today_of(ground, exposure)
    thicker = Covers((("straw", max(straw_m, heat.THINNEST_M) + more_m),))
    swings_k = []
    for change in (Covers(ground.covers), thicker):
        # a settled day, less the trend across it: what is left is the day's own wave
        last_c = course_c(today, change, (depth_m,))[-DAY_H - 1 :, 0]
        wave_c = last_c - np.linspace(last_c[0], last_c[-1], last_c.size)
        swings_k.append(float(np.abs(np.fft.rfft(wave_c[1:])[1])))
    assert swings_k[1] <= swings_k[0] * 1.001 + 1e-6


@settings(max_examples=25, deadline=None)
@given(weathers, grounds, st.floats(0.03, 0.25), st.floats(0.05, 0.2))
def test_deeper_has_the_smaller_daily_amplitude(exposure: Exposure, ground: Ground, depth_m: float, more_m: float) -> None:
    today = today_of(ground, exposure)
    last_c = course_c(today, Cloth(0.0), (depth_m,))[-DAY_H:, 0]
    deeper_c = last_c + difference_k(today, PlantingDepth(depth_m + more_m), depth_m)[-DAY_H:]
    upper, lower = (abs(np.fft.rfft(one - np.linspace(one[0], one[-1], DAY_H))[1]) for one in (last_c, deeper_c))
    assert lower < upper


def test_a_deeper_planting_is_the_other_depth_itself() -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS, WEEK_H)
    now = profile_of([(0.05, 22.0), (0.10, 20.0), (0.20, 18.0), (0.40, 16.0)])
    today = today_of(Ground("loam", 0.2, (("straw", 0.08),)), exposure, now)
    moved_k = difference_k(today, PlantingDepth(0.20), 0.10)
    assert moved_k == pytest.approx(-difference_k(today, PlantingDepth(0.10), 0.20))
    assert -2.5 < moved_k[0] < -1.0  # it starts from what the thermometers say


def test_the_soil_starts_from_what_its_thermometers_say() -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS, WEEK_H)
    now = profile_of([(0.05, 22.0), (0.10, 20.0), (0.20, 18.0)])
    today = today_of(Ground("loam", 0.2, (("straw", 0.08),)), exposure, now)
    for depth_m, said_c in ((0.05, 22.0), (0.10, 20.0), (0.20, 18.0)):
        assert heat.temperature_at_c(today.column, today.cells_c, depth_m) == pytest.approx(said_c, abs=0.3)


def test_a_watering_cools_first_and_wears_off_as_the_surface_dries() -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS, WEEK_H)
    today = today_of(Ground("loam", 0.15), exposure)
    cooled_k = [by_day(difference_k(today, Watering(mm), 0.05)).mean(axis=1) for mm in (3.0, 15.0)]
    assert cooled_k[1][0] < cooled_k[0][0] < -0.2
    assert cooled_k[0][-1] > 0.5 * cooled_k[0].min()


def test_a_watering_of_soil_that_is_full_changes_what_evaporates_alone() -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS, WEEK_H)
    night = replace(exposure, reference_mm=np.zeros(exposure.reference_mm.size))
    full = Ground("loam", 0.26)
    assert not difference_k(today_of(full, night), Watering(20.0), 0.05).any()
    assert difference_k(today_of(full, exposure), Watering(20.0), 0.05).min() < -0.2


def test_what_a_bed_was_learned_to_conduct_stands_in_for_its_texture() -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS, WEEK_H)
    swings_k = []
    for diffusivity_m2_s in (2e-7, 4e-7, 8e-7):
        ground = Ground("loam", 0.2, (("straw", 0.08),), diffusivity_m2_s=diffusivity_m2_s)
        swings_k.append(np.ptp(difference_k(today_of(ground, exposure), Cloth(0.6), 0.20)[-DAY_H:]))
    assert swings_k == sorted(swings_k)


# ---------------------------------------------------------------- all of them

SAME: list[Change] = [Cloth(0.2), Covers((("straw", 0.08), ("compost", 0.03))), PlantingDepth(0.10), Watering(0.0)]


@pytest.mark.parametrize("change", SAME)
def test_a_change_that_changes_nothing_makes_exactly_no_difference(change: Change) -> None:
    ground = Ground("loam", 0.2, (("straw", 0.08), ("compost", 0.03)), cloth=0.2)
    for weather in (made.weather(20), Weather()):
        today = today_of(ground, exposure_of(weather, made.SITE, NOW_MS, WEEK_H))
        assert not difference_k(today, change, 0.10).any()


@pytest.mark.parametrize("change", [Cloth(0.5), Covers((("straw", 0.12),)), Covers(())])
def test_it_is_what_the_same_column_does_in_small_steps(change: Change) -> None:
    exposure = exposure_of(made.weather(20), made.SITE, NOW_MS, 48)
    ground = Ground("loam", 0.2, (("straw", 0.08),))
    today = today_of(ground, exposure)
    after = replace(ground, cloth=change.share) if isinstance(change, Cloth) else replace(ground, covers=change.covers)
    # by its own way: another run of days for the changed bed, started from the same soil
    changed = today_of(after, exposure)
    cells_c = np.interp(changed.column.depth_m, today.column.depth_m, today.cells_c)
    top_m = today.column.depth_m[0] - today.column.thickness_m[0] / 2.0
    cells_c[changed.column.depth_m < top_m] = exposure.air_c[-48]
    wind_m_s, air_c = float(exposure.wind_m_s.mean()), float(exposure.air_c.mean())
    conductance = heat.surface_of(air_c, 0.0, wind_m_s, 0.0, 0.0, 0.0).conductance_w_m2_k
    ends_c = []
    for bed, now_c in ((ground, today.cells_c), (after, cells_c)):
        column = today.column if bed is ground else changed.column
        for hour in range(48):
            at = hour - 48
            gain = heat.surface_gain_w_m2(
                float(exposure.sun_w_m2[at]), float(exposure.sky_loss_w_m2[at]), 0.0, bed.albedo, bed.shade
            )
            surface = heat.Surface(float(exposure.air_c[at]) + gain / conductance, conductance)
            for _ in range(60):
                now_c = heat.step_c(column, now_c, surface, None, 60.0)
        ends_c.append(heat.temperature_at_c(column, now_c, 0.10))
    assert difference_k(today, change, 0.10)[-1] == pytest.approx(ends_c[1] - ends_c[0], abs=0.01)


def test_one_depth_is_a_column_of_the_profile() -> None:
    today = today_of(Ground("loam", 0.2), exposure_of(made.weather(20), made.SITE, NOW_MS, 30))
    profile_k = profile_difference_k(today, Cloth(0.4), DEPTHS_M)
    assert profile_k.shape == (30, len(DEPTHS_M))
    assert profile_k[:, 2] == pytest.approx(difference_k(today, Cloth(0.4), DEPTHS_M[2]))
