"""A depth without a thermometer, against the damped wave of uniform ground."""

import numpy as np
import pytest

from collector.soil.forecast.hidden import estimate_at
from tests.collector.soil.forecast.made import rmse_k

HOURS = np.arange(24 * 40)


# Carslaw & Jaeger 1959, Conduction of Heat in Solids, 2.6 (from memory): 20 + 8 exp(-z/d) sin(wt - z/d)
def wave_c(depth_m, diffusivity_m2_s=5e-7):
    damping_m = np.sqrt(2 * diffusivity_m2_s / (2 * np.pi / 86_400))
    return 20 + 8 * np.exp(-depth_m / damping_m) * np.sin(HOURS / 24 * 2 * np.pi - depth_m / damping_m)


def estimate(depths_m, depth_m, **soil):
    readings_c = np.column_stack([wave_c(one, **soil) for one in depths_m])
    return estimate_at(depths_m, readings_c, depth_m), wave_c(depth_m, **soil)


@pytest.mark.parametrize("diffusivity_m2_s", [3e-7, 5e-7, 8e-7])
def test_between_thermometers_the_wave_is_found(diffusivity_m2_s):
    found, true_c = estimate([0.04, 0.08, 0.32], 0.16, diffusivity_m2_s=diffusivity_m2_s)
    assert rmse_k(found.temperature_c[240:], true_c[240:]) < 0.12


def test_below_the_deepest_the_wave_is_found():
    found, true_c = estimate([0.04, 0.08], 0.16)
    assert rmse_k(found.temperature_c[240:], true_c[240:]) < 0.25


def test_above_the_shallowest_the_wave_is_found_but_for_the_last_hours():
    found, true_c = estimate([0.12, 0.20], 0.08)
    assert np.isnan(found.temperature_c[-1])
    assert rmse_k(found.temperature_c[240:-12], true_c[240:-12]) < 0.5


def test_the_farther_the_thermometer_the_larger_the_error_told():
    errors_k = [estimate([0.04], depth_m)[0].error_k for depth_m in (0.05, 0.10, 0.20)]
    assert errors_k == sorted(errors_k)
    assert errors_k[0] < 0.25 < errors_k[-1]


def test_where_a_neighbour_was_silent_nothing_is_told():
    readings_c = np.column_stack([wave_c(0.08), wave_c(0.32)])
    readings_c[100:130, 1] = np.nan
    found = estimate_at([0.08, 0.32], readings_c, 0.16)
    assert np.flatnonzero(np.isnan(found.temperature_c)).tolist() == list(range(100, 130))
