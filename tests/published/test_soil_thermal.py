"""Thermal properties of soil against published forms.

The papers give equations and curves, hardly a number to check by. The rows marked "computed"
were worked out from the stated equation apart from this code; they guard against slips in
writing it down, not against an error in the equation.
"""

from __future__ import annotations

import math

import pytest

from collector.soil import thermal

DAY_S = 86_400.0
YEAR_S = 365.0 * DAY_S


# de Vries 1963: 1.92 and 4.18 MJ m⁻³ K⁻¹ of minerals and water; density 1.3, particles 2.65 Mg/m³; computed
@pytest.mark.parametrize(("water", "mj"), [(0.0, 0.942), (0.10, 1.360), (0.20, 1.778), (0.30, 2.196), (0.40, 2.614)])
def test_heat_capacity_of_de_vries(water: float, mj: float) -> None:
    assert thermal.heat_capacity_j_m3_k(water, 1300.0) / 1e6 == pytest.approx(mj, abs=0.0005)


def test_organic_matter_adds_its_heat_capacity() -> None:
    assert thermal.heat_capacity_j_m3_k(0.2, 1300.0, 0.1) - thermal.heat_capacity_j_m3_k(0.2, 1300.0) == pytest.approx(0.251e6)


# Campbell 1985, density 1.3 Mg/m³, clay 0.20, 0.06 and 0.40; computed
@pytest.mark.parametrize(
    ("clay", "conductivities"),
    [
        (0.20, [0.1990, 0.2739, 0.4243, 0.7053, 0.9113, 0.9944, 1.0634, 1.2012]),
        (0.06, [0.1990, 0.3164, 0.7147, 0.8567, 0.9256, 0.9945, 1.0634, 1.2012]),
        (0.40, [0.1990, 0.2698, 0.3665, 0.5374, 0.7742, 0.9631, 1.0616, 1.2012]),
    ],
)
def test_conductivity_of_campbell(clay: float, conductivities: list[float]) -> None:
    for water, conductivity in zip([0.0, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.40], conductivities, strict=True):
        assert thermal.campbell_conductivity_w_m_k(water, 1300.0, clay) == pytest.approx(conductivity, abs=0.00006)


# The same with de Vries' heat capacity: diffusivity in mm²/s; computed. Wetting a dry bed raises it, a moist one lowers it.
def test_diffusivity_has_its_peak_in_a_moist_soil() -> None:
    found = [
        1e6 * thermal.campbell_conductivity_w_m_k(water, 1300.0, 0.20) / thermal.heat_capacity_j_m3_k(water, 1300.0)
        for water in (0.0, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.40)
    ]
    assert found == pytest.approx([0.2113, 0.2380, 0.3120, 0.4495, 0.5126, 0.5005, 0.4843, 0.4595], abs=0.0001)


@pytest.mark.parametrize("clay", [0.0, -0.1, 1.1, math.nan])
def test_a_clay_fraction_that_cannot_be_is_refused(clay: float) -> None:
    with pytest.raises(ValueError, match=r"clay_fraction is .*want above 0, up to 1"):
        thermal.campbell_conductivity_w_m_k(0.2, 1300.0, clay)


# Johansen 1975, density 1300 kg/m³, quartz 0.4, fine soil; computed
def test_conductivity_of_johansen() -> None:
    assert thermal.johansen_conductivity_w_m_k(0.0, 1300.0, 0.4, coarse=False) == pytest.approx(0.16352, abs=0.000005)
    for water, conductivity in [(0.1, 0.5183), (0.2, 0.8829), (0.3, 1.0961)]:
        assert thermal.johansen_conductivity_w_m_k(water, 1300.0, 0.4, coarse=False) == pytest.approx(conductivity, abs=0.00005)


def test_saturated_soil_of_johansen_is_the_geometric_mean_of_solids_and_water() -> None:
    pores = thermal.porosity_m3_m3(1300.0)
    saturated = (7.7**0.4 * 2.0**0.6) ** (1.0 - pores) * 0.57**pores
    assert thermal.johansen_conductivity_w_m_k(pores, 1300.0, 0.4, coarse=True) == pytest.approx(saturated)


# Damping depth of the day [cm] and year [m], height of the wave and its lag at 10 cm [h]; computed from sqrt(2 a / w)
@pytest.mark.parametrize(
    ("mm2_s", "day_cm", "year_m", "at_10_cm", "lag_h"),
    [
        (0.20, 7.42, 1.417, 0.260, 5.15), (0.30, 9.08, 1.735, 0.333, 4.21), (0.40, 10.49, 2.004, 0.385, 3.64),
        (0.50, 11.73, 2.240, 0.426, 3.26), (0.60, 12.85, 2.454, 0.459, 2.97), (0.80, 14.83, 2.834, 0.510, 2.57),
    ],
)  # fmt: skip
def test_damping_depth(mm2_s: float, day_cm: float, year_m: float, at_10_cm: float, lag_h: float) -> None:
    depth_m = thermal.damping_depth_m(mm2_s * 1e-6, DAY_S)
    assert 100.0 * depth_m == pytest.approx(day_cm, abs=0.0051)
    assert thermal.damping_depth_m(mm2_s * 1e-6, YEAR_S) == pytest.approx(year_m, abs=0.00051)
    assert math.exp(-0.10 / depth_m) == pytest.approx(at_10_cm, abs=0.00051)
    assert 0.10 / depth_m * 24.0 / (2.0 * math.pi) == pytest.approx(lag_h, abs=0.0055)


def test_the_years_wave_goes_nineteen_times_deeper_than_the_days() -> None:
    assert thermal.damping_depth_m(5e-7, YEAR_S) / thermal.damping_depth_m(5e-7, DAY_S) == pytest.approx(math.sqrt(365.0))
