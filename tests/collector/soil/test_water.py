"""Water in the root zone: what the published examples do not reach."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.soil import water
from collector.soil.profile import Profile, profile_of


def depletion_mm(points: list[tuple[float, float]], root_depth_m: float = 0.30) -> float:
    moisture = profile_of(points)
    assert moisture is not None
    return water.root_zone_depletion_mm(moisture, 0.25, 0.12, root_depth_m)


def test_depletion_integrates_the_line_between_two_probes() -> None:
    # from 0.15 at the surface to 0.25 at 30 cm: 0.05 missing on average, over 300 mm
    assert depletion_mm([(0.0, 0.15), (0.30, 0.25)]) == pytest.approx(15.0)


def test_above_and_below_the_probes_their_value_holds() -> None:
    # 0.15 down to 10 cm, a line to 0.25 at 20 cm, 0.25 below: 10 + 5 + 0 mm missing
    assert depletion_mm([(0.10, 0.15), (0.20, 0.25)]) == pytest.approx(15.0)


def test_a_probe_below_the_roots_only_shapes_the_line_above_it() -> None:
    assert depletion_mm([(0.0, 0.15), (0.60, 0.25)]) == pytest.approx(1000 * 0.30 * (0.10 - 0.05 / 2))


def test_wet_soil_below_makes_up_for_dry_soil_above_but_depletion_never_falls_below_zero() -> None:
    assert depletion_mm([(0.0, 0.25), (0.30, 0.25)]) == 0.0
    assert depletion_mm([(0.10, 0.40)]) == 0.0


def test_depletion_never_rises_above_taw() -> None:
    assert depletion_mm([(0.10, 0.02)]) == pytest.approx(39.0)


@pytest.mark.parametrize(("capacity", "wilting"), [(0.12, 0.25), (0.2, 0.2), (0.25, -0.1), (math.nan, 0.1)])
def test_a_soil_that_cannot_be_is_refused(capacity: float, wilting: float) -> None:
    with pytest.raises(ValueError, match="want 0 <= wilting < capacity"):
        water.total_available_mm(capacity, wilting, 0.3)


@pytest.mark.parametrize("root_m", [0.0, -0.1, math.nan])
def test_a_root_zone_without_depth_is_refused(root_m: float) -> None:
    with pytest.raises(ValueError, match=r"root_depth_m is .*; want more than 0"):
        water.total_available_mm(0.25, 0.12, root_m)


def test_litres_and_minutes_of_a_bed() -> None:
    # 11.7 mm on 3 m² at an efficiency of 0.9, by hand: 39 L; at 12 L/min three and a quarter minutes
    assert water.refill_litres(11.7, 3.0, 0.9) == pytest.approx(39.0)
    assert water.watering_minutes(39.0, 12.0) == pytest.approx(3.25)


@pytest.mark.parametrize("efficiency", [0.0, -0.5, 1.01, math.nan])
def test_an_efficiency_that_cannot_be_is_refused(efficiency: float) -> None:
    with pytest.raises(ValueError, match="want above 0, up to 1"):
        water.refill_litres(10.0, 1.0, efficiency)


def test_a_hose_that_gives_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match=r"hose_l_min is 0\.0; want more than 0"):
        water.watering_minutes(10.0, 0.0)


@given(
    depletion=st.floats(0, 39), etc=st.floats(0, 12), rain=st.floats(0, 120), irrigation=st.floats(0, 120), p=st.floats(0.1, 0.8)
)
def test_a_day_loses_and_makes_no_water(depletion: float, etc: float, rain: float, irrigation: float, p: float) -> None:
    day = water.balance_day(depletion, 39.0, p, etc, rain, irrigation)
    assert 0.0 <= day.depletion_mm <= 39.0
    assert 0.0 <= day.evapotranspiration_mm <= etc + 1e-9
    gained = rain + irrigation - day.percolation_mm - day.evapotranspiration_mm
    assert depletion - day.depletion_mm == pytest.approx(gained, abs=1e-9)


@given(st.floats(0, 39), st.floats(0, 39), st.floats(0.1, 0.8))
def test_a_drier_root_zone_is_never_less_stressed(one: float, other: float, p: float) -> None:
    drier, wetter = max(one, other), min(one, other)
    assert water.stress_coefficient(drier, 39.0, p) <= water.stress_coefficient(wetter, 39.0, p)
    assert 0.0 <= water.stress_coefficient(drier, 39.0, p) <= 1.0


def test_the_profile_of_the_moment_is_enough() -> None:
    assert water.root_zone_depletion_mm(Profile((0.15,), (0.20,)), 0.25, 0.12, 0.30) == pytest.approx(15.0)
