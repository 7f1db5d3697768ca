"""Heat flow against what is known without it: the damped wave, the steady state of layers, the books of energy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.soil import heat, thermal
from collector.soil.arrays import Array
from collector.soil.covers import MATERIALS, cover_conductivity_w_m_k, material_of

DAY_S = 86_400.0
HELD = 1e9  # a conductance so large that the top of the column has the temperature it feels


def soil_column(soil_m: float = 3.0, finest_m: float = 0.01, growth: float = 1.15, diffusivity: float = 5e-7) -> heat.Column:
    """Uniform bare soil with a heat capacity of 2 MJ m⁻³ K⁻¹."""
    depth_m, thickness_m = heat.cells_m([], soil_m, finest_m, growth)
    return heat.Column(depth_m, thickness_m, np.full_like(depth_m, diffusivity * 2e6), np.full_like(depth_m, 2e6))


def covered_column(straw_m: float, wind_m_s: float = 1.0) -> heat.Column:
    """A metre of moist soil under straw."""
    depth_m, thickness_m = heat.cells_m([straw_m], 1.0)
    straw = material_of("straw")
    conductivity = np.where(depth_m < 0, cover_conductivity_w_m_k(straw, wind_m_s), 1.0)
    capacity = np.where(depth_m < 0, straw.capacity_j_m3_k, 2.0e6)
    return heat.Column(depth_m, thickness_m, conductivity, capacity)


def last_day(column: heat.Column, depths_m: list[float], surface_c: Array, days: int) -> Array:
    """Temperatures at some depths through the last of so many equal days with a given surface; one row for each step."""
    step_s = DAY_S / len(surface_c)
    cells_c = np.full_like(column.depth_m, surface_c.mean())
    rows = []
    for day in range(days):
        for felt_c in surface_c:
            cells_c = heat.step_c(column, cells_c, heat.Surface(float(felt_c), HELD), None, step_s)
            if day == days - 1:
                rows.append([heat.temperature_at_c(column, cells_c, depth_m) for depth_m in depths_m])
    return np.array(rows)


# The damped wave of uniform ground: height exp(-z/d), lag z/d radians; Carslaw & Jaeger 1959 (from memory).
def test_a_daily_wave_loses_height_and_time_with_depth_as_the_analytic_one_does() -> None:
    steps, depths_m = 288, [0.05, 0.10, 0.20]
    wave = 20.0 + 8.0 * np.sin(2 * np.pi * np.arange(1, steps + 1) / steps)
    rows = last_day(soil_column(finest_m=0.005, growth=1.08), depths_m, wave, days=8)
    damping_m = thermal.damping_depth_m(5e-7, DAY_S)
    surface = np.fft.rfft(wave)[1]
    for i, depth_m in enumerate(depths_m):
        at_depth = np.fft.rfft(rows[:, i])[1]
        height = abs(at_depth) / abs(surface)
        lag_h = -np.angle(at_depth / surface) * 24.0 / (2.0 * np.pi)
        assert height == pytest.approx(math.exp(-depth_m / damping_m), rel=0.02)
        assert lag_h == pytest.approx(depth_m / damping_m * 24.0 / (2.0 * np.pi), rel=0.02)


def test_halving_the_step_halves_the_error_of_the_wave() -> None:
    exact = math.exp(-0.10 / thermal.damping_depth_m(5e-7, DAY_S))
    errors = []
    for steps in (48, 96):
        wave = 20.0 + 8.0 * np.sin(2 * np.pi * np.arange(1, steps + 1) / steps)
        rows = last_day(soil_column(finest_m=0.0025, growth=1.04), [0.10], wave, days=5)
        errors.append(abs(abs(np.fft.rfft(rows[:, 0])[1]) / abs(np.fft.rfft(wave)[1]) - exact))
    assert errors[0] / errors[1] == pytest.approx(2.0, rel=0.15)


# Steady state: one flow through everything in series, so each layer's drop is its share of the resistance.
def test_two_layers_between_two_temperatures_settle_to_their_shares_of_the_resistance() -> None:
    depth_m, thickness_m = heat.cells_m([0.10], 1.0)
    conductivity = np.where(depth_m < 0, 0.1, 1.0)
    column = heat.Column(depth_m, thickness_m, conductivity, np.full_like(depth_m, 2e6))
    surface = heat.Surface(30.0, 10.0)
    cells_c = np.full_like(depth_m, 12.0)
    for _ in range(5):
        cells_c = heat.step_c(column, cells_c, surface, 10.0, 1e9)
    flow = (30.0 - 10.0) / (1.0 / 10.0 + 0.10 / 0.1 + 1.0 / 1.0)
    assert heat.surface_flow_w_m2(column, cells_c, surface) == pytest.approx(flow, rel=1e-6)
    assert heat.temperature_at_c(column, cells_c, 0.505) == pytest.approx(10.0 + flow * (1.0 - 0.505) / 1.0, abs=1e-3)
    first_soil, last_straw = np.flatnonzero(depth_m > 0)[0], np.flatnonzero(depth_m < 0)[-1]
    assert cells_c[first_soil] == pytest.approx(10.0 + flow * (1.0 - depth_m[first_soil]), abs=1e-6)
    assert cells_c[last_straw] == pytest.approx(10.0 + flow * (1.0 - depth_m[last_straw] / 0.1), abs=1e-6)


@given(
    felt_c=st.floats(-20, 70), conductance=st.floats(0, 60), step_s=st.floats(1, 1e7), bottom=st.none() | st.floats(0, 30),
    wiggle=st.lists(st.floats(-10, 10), min_size=4, max_size=4),
)  # fmt: skip
def test_what_flows_in_is_stored(
    felt_c: float, conductance: float, step_s: float, bottom: float | None, wiggle: list[float]
) -> None:
    column = covered_column(0.08)
    before_c = 15.0 + np.interp(column.depth_m, [-0.1, 0.1, 0.4, 1.0], wiggle)
    surface = heat.Surface(felt_c, conductance)
    after_c = heat.step_c(column, before_c, surface, bottom, step_s)
    in_above = heat.surface_flow_w_m2(column, after_c, surface)
    last = column.conductivity_w_m_k[-1] / (column.thickness_m[-1] / 2)
    in_below = 0.0 if bottom is None else last * (bottom - after_c[-1])
    gained = heat.stored_heat_j_m2(column, after_c) - heat.stored_heat_j_m2(column, before_c)
    turned_over = heat.stored_heat_j_m2(column, np.abs(after_c) + np.abs(before_c))
    assert gained == pytest.approx((in_above + in_below) * step_s, abs=1e-9 * turned_over + 1e-6)


@given(st.floats(-30, 80), st.floats(0.1, 60), st.floats(1, 1e9), st.floats(-10, 40))
def test_no_step_however_long_leaves_the_range_of_what_it_starts_from_and_feels(
    felt_c: float, conductance: float, step_s: float, start_c: float
) -> None:
    column = covered_column(0.06)
    before_c = start_c + np.linspace(-5.0, 5.0, len(column.depth_m))
    after_c = heat.step_c(column, before_c, heat.Surface(felt_c, conductance), None, step_s)
    assert after_c.min() >= min(before_c.min(), felt_c) - 1e-6
    assert after_c.max() <= max(before_c.max(), felt_c) + 1e-6


@pytest.mark.parametrize("bottom_c", [None, 14.0])
def test_the_linear_map_of_a_step_is_the_step(bottom_c: float | None) -> None:
    column = covered_column(0.09)
    before_c = np.linspace(28.0, 13.0, len(column.depth_m))
    step = heat.transition(column, 12.0, bottom_c is not None, 600.0)
    by_map = step.state @ before_c + step.surface * 31.0 + step.bottom * (bottom_c or 0.0)
    assert by_map == pytest.approx(heat.step_c(column, before_c, heat.Surface(31.0, 12.0), bottom_c, 600.0))


# ---------------------------------------------------------------- the surface


def test_without_sun_sky_and_evaporation_a_surface_feels_the_air() -> None:
    surface = heat.surface_of(18.0, 0.0, 2.0, 0.0, 0.0, albedo=0.2)
    assert surface.felt_c == 18.0
    # 5.7 + 3.8 u, and 4 σ T³ = 5.60 W m⁻² K⁻¹ at 18 °C, by hand
    assert surface.conductance_w_m2_k == pytest.approx(5.7 + 7.6 + 5.60, abs=0.01)


def test_sun_warms_and_evaporation_and_a_clear_sky_cool_the_surface() -> None:
    plain = heat.surface_of(18.0, 300.0, 2.0, 60.0, 0.0, albedo=0.2).felt_c
    assert plain > 18.0
    assert heat.surface_of(18.0, 300.0, 2.0, 60.0, 80.0, albedo=0.2).felt_c < plain
    assert heat.surface_of(18.0, 0.0, 2.0, 60.0, 0.0, albedo=0.2).felt_c < 18.0


def test_wind_brings_a_sunny_surface_nearer_to_the_air() -> None:
    felt = [heat.surface_of(20.0, 700.0, wind, 60.0, 0.0, albedo=0.2).felt_c for wind in (0.0, 1.0, 3.0, 8.0)]
    assert felt == sorted(felt, reverse=True)
    assert felt[-1] > 20.0


@pytest.mark.parametrize("shade", [-0.1, 1.1, math.nan])
def test_a_shade_that_cannot_be_is_refused(shade: float) -> None:
    with pytest.raises(ValueError, match=r"shade is .*; want 0 to 1"):
        heat.surface_of(20.0, 500.0, 1.0, 60.0, 0.0, 0.2, shade)


# ---------------------------------------------------------------- mulch and cloth

HOURS = np.arange(0.5, 24.0)


def bed_day(straw_m: float, shade: float, noon_w_m2: float, wind_m_s: float) -> tuple[heat.Column, Array]:
    """Temperatures of the cells through the third of three equal days of hourly steps."""
    column = covered_column(straw_m, wind_m_s)
    cells_c = np.full_like(column.depth_m, 17.0)
    rows = []
    for day in range(3):
        for hour in HOURS:
            sun = noon_w_m2 * max(0.0, math.cos(2 * math.pi * (hour - 12.0) / 24.0))
            air_c = 17.0 - 6.0 * math.cos(2 * math.pi * (hour - 3.0) / 24.0)
            surface = heat.surface_of(air_c, sun, wind_m_s, 60.0, 0.0, 0.2, shade)
            cells_c = heat.step_c(column, cells_c, surface, 16.0, 3600.0)
            if day == 2:
                rows.append(cells_c)
    return column, np.array(rows)


@settings(max_examples=25, deadline=None)
@given(
    thin=st.floats(0.0, 0.15), more=st.floats(0.005, 0.10), noon=st.floats(200, 1000), wind=st.floats(0, 6),
    depth_m=st.sampled_from([0.03, 0.05, 0.10, 0.20]),
)  # fmt: skip
def test_thicker_straw_never_raises_the_daily_swing_below_it(
    thin: float, more: float, noon: float, wind: float, depth_m: float
) -> None:
    swings = []
    for straw_m in (thin, thin + more):
        column, rows = bed_day(straw_m, 0.0, noon, wind)
        at_depth = [heat.temperature_at_c(column, cells_c, depth_m) for cells_c in rows]
        swings.append(max(at_depth) - min(at_depth))
    assert swings[1] <= swings[0] + 1e-6


@settings(max_examples=25, deadline=None)
@given(
    straw_m=st.floats(0.0, 0.15), some=st.floats(0, 0.9), more=st.floats(0.05, 0.1), noon=st.floats(300, 1000),
    wind=st.floats(0, 6), depth_m=st.sampled_from([0.03, 0.10, 0.20]),
)  # fmt: skip
def test_more_shade_never_warms_the_soil_by_day(
    straw_m: float, some: float, more: float, noon: float, wind: float, depth_m: float
) -> None:
    highest, means = [], []
    for shade in (some, some + more):
        column, rows = bed_day(straw_m, shade, noon, wind)
        at_depth = [heat.temperature_at_c(column, cells_c, depth_m) for cells_c in rows]
        highest.append(max(at_depth))
        means.append(sum(at_depth))
    assert highest[1] <= highest[0] + 1e-6
    assert means[1] <= means[0] + 1e-6


# van Donk & Tollner 2000: straw and wood conduct 0.1 to 0.6 W m⁻¹ K⁻¹ as the air over them goes from 0 to 5 m/s
@pytest.mark.parametrize("name", ["straw", "wood chips"])
def test_covers_conduct_better_in_wind_within_the_measured_range(name: str) -> None:
    found = [cover_conductivity_w_m_k(MATERIALS[name], wind) for wind in (0.0, 1.0, 5.0, 15.0, 40.0)]
    assert found == sorted(found)
    assert found[0] == pytest.approx(0.1, abs=0.03)
    assert found[-1] == 0.6


# ---------------------------------------------------------------- cells


@settings(max_examples=50)
@given(st.lists(st.floats(0, 0.3), max_size=3), st.floats(0.5, 4.0))
def test_cells_fill_covers_and_soil_exactly(covers_m: list[float], soil_m: float) -> None:
    depth_m, thickness_m = heat.cells_m(covers_m, soil_m)
    covered_m = sum(cover_m for cover_m in covers_m if cover_m >= heat.THINNEST_M)
    assert thickness_m.sum() == pytest.approx(covered_m + soil_m)
    assert thickness_m.min() > 0
    assert np.all(np.diff(depth_m) > 0)
    assert depth_m[0] - thickness_m[0] / 2 == pytest.approx(-covered_m)
    assert depth_m[-1] + thickness_m[-1] / 2 == pytest.approx(soil_m)
    assert np.count_nonzero(depth_m < 0) == sum(heat.cells_in_cover(cover_m) for cover_m in covers_m)


def test_a_cover_of_no_thickness_is_no_cover() -> None:
    bare, covered = heat.cells_m([], 1.0), heat.cells_m([0.0, 1e-9], 1.0)
    assert np.array_equal(bare[0], covered[0])


@pytest.mark.parametrize(("covers_m", "soil_m"), [([-0.01], 1.0), ([math.nan], 1.0), ([], 0.0), ([], math.nan)])
def test_a_column_that_cannot_be_is_refused(covers_m: list[float], soil_m: float) -> None:
    with pytest.raises(ValueError, match="want"):
        heat.cells_m(covers_m, soil_m)


@pytest.mark.parametrize("depth_m", [1.01, -0.09, math.nan])
def test_a_depth_outside_the_column_is_refused(depth_m: float) -> None:
    column = covered_column(0.08)
    with pytest.raises(ValueError, match=r"depth_m is .*; the column goes from -0\.080 to 1\.000 m"):
        heat.temperature_at_c(column, column.depth_m, depth_m)


@pytest.mark.parametrize("step_s", [0.0, -600.0, math.nan])
def test_a_step_of_no_length_is_refused(step_s: float) -> None:
    column = covered_column(0.08)
    with pytest.raises(ValueError, match="want more than 0"):
        heat.step_c(column, column.depth_m, heat.Surface(20.0, 10.0), None, step_s)


def test_an_unknown_cover_is_told_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"'gravel' is not known; want one of: compost, hay, leaves, straw, wood chips"):
        material_of("gravel")
