"""The exact solution against what is known without it: the damped wave, the steady state, small steps, SciPy's solver."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from collector.soil import heat, thermal
from collector.soil.arrays import Array
from collector.soil.modes import between, follow_c, held, modes_of

DAY_S = 86_400.0
HELD = 1e9  # a conductance so large that the top of the column has the temperature it feels


def uniform(soil_m: float, finest_m: float, growth: float, diffusivity: float = 5e-7) -> heat.Column:
    """Bare soil with a heat capacity of 2 MJ m⁻³ K⁻¹."""
    depth_m, thickness_m = heat.cells_m([], soil_m, finest_m, growth)
    return heat.Column(depth_m, thickness_m, np.full_like(depth_m, diffusivity * 2e6), np.full_like(depth_m, 2e6))


def strawed(straw_m: float = 0.08) -> heat.Column:
    """A metre of moist soil under straw."""
    depth_m, thickness_m = heat.cells_m([straw_m], 1.0)
    conductivity, capacity = np.where(depth_m < 0, 0.12, 1.0), np.where(depth_m < 0, 0.15e6, 2.0e6)
    return heat.Column(depth_m, thickness_m, conductivity, capacity)


def weather_c(steps: int, seed: int = 3) -> Array:
    """Temperatures at the moments of ten-minute steps: a wave of the day, and noise."""
    hours = np.arange(steps + 1) / 6.0
    return 20.0 + 9.0 * np.sin(hours / 24.0 * 2 * np.pi) + np.random.default_rng(seed).normal(size=steps + 1)


# The damped wave of uniform ground: height exp(-z/d), lag z/d radians; Carslaw & Jaeger 1959 (from memory).
@pytest.mark.parametrize("depth_m", [0.05, 0.10, 0.20, 0.30])
def test_a_daily_wave_loses_height_and_time_with_depth_as_the_analytic_one_does(depth_m: float) -> None:
    column = uniform(3.0, 0.004, 1.05)
    minutes = np.arange(20 * 1440 // 10 + 1) * 10.0
    wave_c = 20.0 + 8.0 * np.sin(2 * np.pi * minutes / 1440.0)
    cells_c = follow_c(modes_of(column, HELD, False), np.full(column.depth_m.size, 20.0), between(wave_c), None, 600.0)
    seen_c = np.array([heat.temperature_at_c(column, row, depth_m) for row in cells_c[-144:]])
    height, surface = np.fft.rfft(seen_c)[1], np.fft.rfft(wave_c[-144:])[1]
    steps = depth_m / thermal.damping_depth_m(5e-7, DAY_S)
    assert abs(height) / abs(surface) == pytest.approx(math.exp(-steps), rel=0.003)
    assert -np.angle(height / surface) == pytest.approx(steps, rel=0.003)


# Steady state: one flow through everything in series, so each layer's drop is its share of the resistance.
def test_two_layers_between_two_temperatures_settle_to_their_shares_of_the_resistance() -> None:
    depth_m, thickness_m = heat.cells_m([0.10], 1.0)
    conductivity = np.where(depth_m < 0, 0.1, 1.0)
    column = heat.Column(depth_m, thickness_m, conductivity, np.full_like(depth_m, 2e6))
    modes = modes_of(column, 10.0, True)
    settled_c = follow_c(modes, np.full_like(depth_m, 12.0), held(np.array([30.0])), held(np.array([10.0])), 1e9)[-1]
    flow = (30.0 - 10.0) / (1.0 / 10.0 + 0.10 / 0.1 + 1.0 / 1.0)
    straw, soil = depth_m < 0, depth_m > 0
    assert settled_c[soil] == pytest.approx(10.0 + flow * (1.0 - depth_m[soil]), abs=1e-9)
    assert settled_c[straw] == pytest.approx(10.0 + flow * (1.0 - depth_m[straw] / 0.1), abs=1e-9)


@pytest.mark.parametrize("open_below", [True, False])
def test_small_implicit_steps_come_ever_nearer_to_it(open_below: bool) -> None:
    column, felt_c = strawed(), weather_c(12)
    start_c = np.linspace(24.0, 15.0, column.depth_m.size)
    bottom_c = held(np.full(12, 14.0)) if open_below else None
    exact_c = follow_c(modes_of(column, 15.0, open_below), start_c, between(felt_c), bottom_c, 600.0)[-1]
    off_k = []
    for parts in (20, 200):
        cells_c, moments = start_c, np.linspace(0.0, 12.0, 12 * parts + 1)[1:]
        for now_c in np.interp(moments, np.arange(13), felt_c):
            below_c = 14.0 if open_below else None
            cells_c = heat.step_c(column, cells_c, heat.Surface(float(now_c), 15.0), below_c, 600.0 / parts)
        off_k.append(float(np.abs(cells_c - exact_c).max()))
    # backward Euler is of first order: ten times smaller steps, ten times smaller error
    assert off_k[0] / off_k[1] == pytest.approx(10.0, rel=0.1)
    assert off_k[1] < 0.005


def test_it_agrees_with_scipys_stiff_solver_at_a_tight_tolerance() -> None:
    column, felt_c = strawed(), weather_c(72)
    links = heat.links_of(column, 15.0, True)
    stored = column.capacity_j_m3_k * column.thickness_m
    lost = np.diag(links.diagonal()) - np.diag(links.beside, 1) - np.diag(links.beside, -1)
    top, bottom = np.eye(stored.size)[0] * links.top, np.eye(stored.size)[-1] * links.bottom
    start_c = np.linspace(24.0, 15.0, stored.size)
    cells_c, rows = start_c, []
    for begin_c, end_c in between(felt_c):  # a step at a time, as the course has a corner at each moment
        found = solve_ivp(
            lambda s, now_c, b=begin_c, e=end_c: (top * (b + (e - b) * s / 600.0) + bottom * 14.0 - lost @ now_c) / stored,
            (0.0, 600.0), cells_c, method="Radau", jac=-lost / stored[:, None], rtol=1e-10, atol=1e-10,
        )  # fmt: skip
        cells_c = found.y[:, -1]
        rows.append(cells_c)
    ours_c = follow_c(modes_of(column, 15.0, True), start_c, between(felt_c), held(np.full(72, 14.0)), 600.0)
    assert ours_c == pytest.approx(np.array(rows), abs=1e-7)


@settings(max_examples=40, deadline=None)
@given(
    steps=st.integers(1, 60), cut=st.integers(0, 60), step_s=st.floats(1.0, 1e6), conductance=st.sampled_from([0.0, 0.3, 20.0])
)
def test_a_course_followed_in_two_parts_ends_where_it_ends_in_one(
    steps: int, cut: int, step_s: float, conductance: float
) -> None:
    modes, felt_c = modes_of(strawed(), conductance, False), weather_c(steps)
    start_c = np.linspace(24.0, 15.0, modes.rates_per_s.size)
    whole_c = follow_c(modes, start_c, between(felt_c), None, step_s)
    cut = min(cut, steps)
    first_c = follow_c(modes, start_c, between(felt_c[: cut + 1]), None, step_s)
    assert first_c == pytest.approx(whole_c[:cut], abs=1e-8)
    rest_c = follow_c(modes, first_c[-1] if cut else start_c, between(felt_c[cut:]), None, step_s)
    assert rest_c == pytest.approx(whole_c[cut:], abs=1e-8)


@settings(max_examples=40, deadline=None)
@given(st.floats(-30, 80), st.floats(1, 1e9), st.floats(-10, 40))
def test_no_step_however_short_or_long_leaves_the_range_of_what_it_starts_from_and_feels(
    felt_c: float, step_s: float, start_c: float
) -> None:
    column = strawed(0.06)
    before_c = start_c + np.linspace(-5.0, 5.0, column.depth_m.size)
    after_c = follow_c(modes_of(column, 12.0, False), before_c, held(np.full(5, felt_c)), None, step_s)
    assert after_c.min() >= min(before_c.min(), felt_c) - 1e-7
    assert after_c.max() <= max(before_c.max(), felt_c) + 1e-7


def test_a_column_shut_at_both_ends_keeps_its_heat_for_ever() -> None:
    column = strawed()
    start_c = np.linspace(24.0, 15.0, column.depth_m.size)
    last_c = follow_c(modes_of(column, 0.0, False), start_c, held(np.full(4, 99.0)), None, 1e8)[-1]
    assert heat.stored_heat_j_m2(column, last_c) == pytest.approx(heat.stored_heat_j_m2(column, start_c))
    assert np.ptp(last_c) < 1e-6


def test_what_is_seen_is_a_share_of_the_cells() -> None:
    column, felt_c = strawed(), weather_c(30)
    modes, start_c = modes_of(column, 15.0, False), np.full(column.depth_m.size, 18.0)
    seen = np.zeros((2, start_c.size))
    seen[0, 3], seen[1, 8:10] = 1.0, 0.5
    cells_c = follow_c(modes, start_c, between(felt_c), None, 600.0)
    two_c = follow_c(modes, start_c, between(felt_c), None, 600.0, seen)
    assert two_c == pytest.approx(np.column_stack([cells_c[:, 3], cells_c[:, 8:10].mean(axis=1)]))
