"""Apparent diffusivity against the analytic damped wave, and the constant of the logarithmic equation.

The wave: T = 22 + 8 exp(-z/d) sin(wt - z/d) of uniform ground (Carslaw & Jaeger 1959, from memory),
a = 5e-7 m²/s, z 5 and 10 cm, at 2, 8, 14 and 20 h; the temperatures below were computed from it.
The equations are those compared by Horton, Wierenga and Nielsen 1983 (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from collector.soil.diffusivity import arctangent_diffusivity_m2_s, harmonic_diffusivity_m2_s, log_diffusivity_m2_s

OMEGA_PER_S = 2 * math.pi / 86_400
UPPER_C, LOWER_C = (22.5069, 27.1983, 21.4931, 16.8017), (20.8977, 25.2268, 23.1023, 18.7732)
# the same with a wave of half a day: amplitude 2, phase 0.6 rad
UPPER_TWO_C, LOWER_TWO_C = (23.4530, 26.2522, 22.4391, 15.8557), (21.1534, 24.9711, 23.3580, 18.5175)


def wave_c(time_ms: np.ndarray, depth_m: float, diffusivity: float = 5e-7, second_k: float = 2.0) -> np.ndarray:
    """The damped wave with a second harmonic."""
    time_s = time_ms / 1000.0
    one, two = (depth_m * math.sqrt(k * OMEGA_PER_S / (2 * diffusivity)) for k in (1, 2))
    first = 8 * math.exp(-one) * np.sin(OMEGA_PER_S * time_s - one)
    return 22 + first + second_k * math.exp(-two) * np.sin(2 * OMEGA_PER_S * time_s + 0.6 - two)


HOURS_MS = np.arange(0, 48, dtype=np.int64) * 3_600_000


@pytest.mark.parametrize(("upper_c", "lower_c"), [(UPPER_C, LOWER_C), (UPPER_TWO_C, LOWER_TWO_C)])
def test_arctangent_and_log_find_the_diffusivity_even_under_a_wave_of_half_a_day(upper_c, lower_c):
    # four decimals of a degree leave about one part in ten thousand
    assert arctangent_diffusivity_m2_s(upper_c, lower_c, 0.05) == pytest.approx(5.0000e-7, rel=2e-4)
    assert log_diffusivity_m2_s(upper_c, lower_c, 0.05) == pytest.approx(5.0000e-7, rel=2e-4)


def test_the_printed_constant_would_be_two_thirds_of_a_percent_too_large():
    exact = log_diffusivity_m2_s(UPPER_C, LOWER_C, 0.05)
    assert exact * (0.0121 / math.sqrt(4 * math.pi / 86_400)) ** 2 == pytest.approx(5.0332e-7, rel=2e-4)
    assert (0.0121 / math.sqrt(4 * math.pi / 86_400)) ** 2 == pytest.approx(1.00665, abs=1e-5)


@pytest.mark.parametrize("diffusivity", [1.5e-7, 5e-7, 1.2e-6])
def test_the_harmonic_fit_finds_the_diffusivity_of_a_wave_with_two_harmonics(diffusivity):
    upper_c, lower_c = wave_c(HOURS_MS, 0.05, diffusivity), wave_c(HOURS_MS, 0.15, diffusivity)
    assert harmonic_diffusivity_m2_s(HOURS_MS, upper_c, lower_c, 0.10) == pytest.approx(diffusivity, rel=1e-5)


def test_offset_trend_gaps_and_uneven_times_do_not_upset_the_harmonic_fit():
    luck = np.random.default_rng(3)
    times_ms = np.sort(luck.integers(0, 3 * 86_400_000, 90)).astype(np.int64)
    warming_c = 0.8 * times_ms / 86_400_000
    upper_c, lower_c = wave_c(times_ms, 0.05) + warming_c + 0.5, wave_c(times_ms, 0.15) + warming_c - 0.4
    upper_c[20:35] = np.nan
    assert harmonic_diffusivity_m2_s(times_ms, upper_c, lower_c, 0.10) == pytest.approx(5e-7, rel=1e-5)


def test_noise_of_a_thermometer_moves_the_harmonic_fit_by_a_few_percent():
    luck = np.random.default_rng(4)
    upper_c, lower_c = (np.round(wave_c(HOURS_MS, depth_m) + luck.normal(0, 0.05, 48), 1) for depth_m in (0.05, 0.15))
    assert harmonic_diffusivity_m2_s(HOURS_MS, upper_c, lower_c, 0.10) == pytest.approx(5e-7, rel=0.05)


def test_readings_that_do_not_tell_give_nan_and_not_a_number():
    upper_c, lower_c = wave_c(HOURS_MS, 0.05), wave_c(HOURS_MS, 0.15)
    flat_c = np.full(48, 15.0)
    assert math.isnan(harmonic_diffusivity_m2_s(HOURS_MS[:20], upper_c[:20], lower_c[:20], 0.10))
    assert math.isnan(harmonic_diffusivity_m2_s(HOURS_MS, upper_c, flat_c, 0.10))
    assert math.isnan(harmonic_diffusivity_m2_s(HOURS_MS, np.full(48, np.nan), lower_c, 0.10))
    # the lower one ahead of the upper and higher: the depths are mixed up
    assert math.isnan(harmonic_diffusivity_m2_s(HOURS_MS, lower_c, upper_c, 0.10))
    assert math.isnan(arctangent_diffusivity_m2_s(LOWER_C, UPPER_C, 0.05))
    assert math.isnan(log_diffusivity_m2_s(LOWER_C, UPPER_C, 0.05))


def test_a_spacing_of_nothing_or_three_readings_are_refused():
    with pytest.raises(ValueError, match="spacing_m is 0"):
        harmonic_diffusivity_m2_s(HOURS_MS, wave_c(HOURS_MS, 0.05), wave_c(HOURS_MS, 0.1), 0.0)
    with pytest.raises(ValueError, match="want four at each depth"):
        log_diffusivity_m2_s(UPPER_C[:3], LOWER_C, 0.05)
    with pytest.raises(ValueError, match="want them equal"):
        harmonic_diffusivity_m2_s(HOURS_MS, wave_c(HOURS_MS, 0.05)[:-1], wave_c(HOURS_MS, 0.1), 0.05)
