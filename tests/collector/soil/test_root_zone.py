"""The root zone as a store of water, and what a silent or lonely probe makes of it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.soil import water
from collector.soil.profile import profile_of
from collector.soil.root_depth import root_depth_m
from collector.soil.root_zone import RootZone, measured_depletion_mm, pass_step, probe_weights

LOAM = RootZone(0.25, 0.12, 0.30)  # TAW 39 mm, RAW 11.7 mm


def test_a_day_without_surplus_is_the_published_balance() -> None:
    # Allen et al. 1998, FAO-56, Example 37, p. 168: tomato, 55 mm at the beginning, ETc 6 mm/d, printed to 0.1 mm
    zone, depletion_mm, ends_mm = RootZone(0.32, 0.12, 0.80, 0.40), 55.0, []
    for _ in range(10):
        depletion_mm = pass_step(zone, depletion_mm, 6.0, 0.0, 1.0, 0.40)
        ends_mm.append(depletion_mm)
    assert ends_mm == pytest.approx([61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5], abs=0.0500001)


def test_hours_add_up_to_a_day() -> None:
    hours = 5.0
    for _ in range(24):
        hours = pass_step(LOAM, hours, 4.0 / 24.0, 0.0, 1.0 / 24.0, 0.34)
    assert hours == pytest.approx(pass_step(LOAM, 5.0, 4.0, 0.0, 1.0, 0.34))


def test_what_is_too_much_drains_in_two_days_and_is_not_drunk_from_the_store() -> None:
    start = pass_step(LOAM, 5.0, 0.0, 15.0, 1e-6, 0.3)
    assert start == pytest.approx(-10.0, abs=0.01)
    left = start
    for _ in range(48):
        left = pass_step(LOAM, left, 0.0, 0.0, 1.0 / 24.0, 0.3)
    assert left == pytest.approx(0.05 * start, rel=0.2)


@given(
    depletion=st.floats(-20, 39), demand=st.floats(0, 12), gain=st.floats(0, 200), step=st.floats(0.01, 1), p=st.floats(0.1, 0.8)
)
def test_a_step_stays_between_full_and_dry(depletion: float, demand: float, gain: float, step: float, p: float) -> None:
    end = pass_step(LOAM, depletion, demand, gain, step, p)
    assert -0.08 * 300.0 <= end <= LOAM.taw_mm
    assert end <= max(depletion, 0.0) + demand + 1e-9
    assert end <= pass_step(LOAM, depletion, demand, 0.0, step, p) + 1e-9


def test_the_weights_integrate_as_the_profile_of_the_moment_does() -> None:
    depths, values = (0.05, 0.10, 0.20, 0.50), (0.14, 0.16, 0.19, 0.23)
    profile = profile_of(list(zip(depths, values, strict=True)))
    assert profile is not None
    for roots_m in (0.03, 0.20, 0.30, 0.60):
        zone = RootZone(0.25, 0.12, roots_m)
        (signed,) = measured_depletion_mm(zone, depths, np.array([values]))
        assert signed == pytest.approx(water.root_zone_depletion_mm(profile, 0.25, 0.12, roots_m))


@given(st.lists(st.floats(0.01, 1.0), min_size=1, max_size=6, unique_by=lambda depth: round(depth, 3)), st.floats(0.05, 1.0))
def test_weights_are_shares(depths_m: list[float], roots_m: float) -> None:
    weights = probe_weights(sorted(depths_m), roots_m)
    assert weights.sum() == pytest.approx(1.0)
    assert (weights >= 0.0).all()


def test_soil_above_field_capacity_counts_below_zero() -> None:
    assert measured_depletion_mm(LOAM, [0.15], np.array([[0.28]])) == pytest.approx([-9.0])


def test_a_probe_that_falls_silent_makes_no_step() -> None:
    wet, dry = np.linspace(0.25, 0.20, 6), np.linspace(0.22, 0.17, 6)
    both = np.stack([dry, wet], axis=1)
    gappy = both.copy()
    gappy[3:, 1] = np.nan
    assert measured_depletion_mm(LOAM, [0.1, 0.3], gappy) == pytest.approx(measured_depletion_mm(LOAM, [0.1, 0.3], both))
    late = both.copy()
    late[:3, 0] = np.nan
    assert measured_depletion_mm(LOAM, [0.1, 0.3], late) == pytest.approx(measured_depletion_mm(LOAM, [0.1, 0.3], both))


def test_where_every_probe_is_silent_nothing_is_known() -> None:
    gone = np.array([[0.2, 0.2], [np.nan, np.nan], [0.19, np.nan]])
    answer = measured_depletion_mm(LOAM, [0.1, 0.3], gone)
    assert np.isnan(answer).tolist() == [False, True, False]
    assert np.isnan(measured_depletion_mm(LOAM, [0.1], np.full((3, 1), np.nan))).all()


def test_a_probe_that_never_spoke_is_no_probe() -> None:
    table = np.array([[0.2, np.nan], [0.19, np.nan]])
    assert measured_depletion_mm(LOAM, [0.1, 0.3], table) == pytest.approx(measured_depletion_mm(LOAM, [0.1], table[:, :1]))


@pytest.mark.parametrize("depths_m", [[], [0.0], [-0.1], [0.2, 0.1], [0.1, 0.1], [math.nan]])
def test_depths_that_cannot_be_are_refused(depths_m: list[float]) -> None:
    with pytest.raises(ValueError, match="one column for each"):
        probe_weights(depths_m, 0.3)


def test_a_table_of_another_shape_is_refused() -> None:
    with pytest.raises(ValueError, match=r"moisture has shape \(3, 1\); want times by 2 depths"):
        measured_depletion_mm(LOAM, [0.1, 0.2], np.zeros((3, 1)))


@pytest.mark.parametrize(("capacity", "wilting"), [(0.12, 0.25), (0.2, 0.2), (math.nan, 0.1)])
def test_a_soil_that_cannot_be_is_refused(capacity: float, wilting: float) -> None:
    with pytest.raises(ValueError, match="want 0 <= wilting < capacity"):
        RootZone(capacity, wilting, 0.3)
    with pytest.raises(ValueError, match="p_table is 1"):
        RootZone(0.25, 0.12, 0.3, 1.0)


def test_roots_grow_with_the_leaves_and_stay() -> None:
    lengths_d = (20.0, 40.0, 30.0, 20.0)
    depths_m = [root_depth_m(day, lengths_d, 0.35) for day in (0, 20, 40, 60, 90, 200)]
    assert depths_m == pytest.approx([0.15, 0.15, 0.25, 0.35, 0.35, 0.35])
    with pytest.raises(ValueError, match="want 0 < sprouted <= deepest"):
        root_depth_m(1, lengths_d, 0.10)
