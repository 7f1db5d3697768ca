"""Banks are linear: their state and their response to one hour of a drive tell all that they will do."""

import math

import numpy as np
import pytest

from collector.soil.forecast.banks import COLUMNS, FILTERS_H, filter_bank, heat_bank, settled

DRIVES = np.random.default_rng(3).normal(size=(400, 2))


@pytest.mark.parametrize("make", [filter_bank, lambda *told: heat_bank(*told, depth_m=0.12)], ids=["filters", "columns"])
def test_going_on_from_an_origin_is_the_free_run_and_the_responses_to_what_came(make):
    bank, hours = make(DRIVES, [200, 250], 100), 100
    for place, origin in enumerate((200, 250)):
        ahead = DRIVES[origin + 1 : origin + 1 + hours]
        went_on = bank.free[:, place].copy()
        for drive in range(2):
            for feature in range(went_on.shape[0]):
                went_on[feature] += np.convolve(bank.response[feature, drive], ahead[:, drive])[:hours]
        assert np.abs(went_on.T - bank.features[origin + 1 : origin + 1 + hours]).max() < 1e-9


def test_a_filter_reaches_63_percent_of_a_step_after_its_time_constant():
    step = np.concatenate([np.zeros(480), np.ones(300)])[:, None]
    features = filter_bank(step, [0], 1).features
    reached = [features[480 + round(constant_h) - 1, place] for place, constant_h in enumerate(FILTERS_H)]
    assert reached == pytest.approx([1 - math.exp(-1)] * len(FILTERS_H))


# The damped wave under a surface with resistance: Carslaw & Jaeger 1959, Conduction of Heat in Solids, 2.6 (from memory).
# Amplitude at the depth z, with q = sqrt(w / 2a) and surface h: h exp(-q z) / sqrt((h + q)^2 + q^2)
@pytest.mark.parametrize("depth_m", [0.05, 0.12, 0.30])
def test_a_wave_of_the_day_is_damped_as_theory_says(depth_m):
    hours = np.arange(24 * 60)
    wave = np.sin(hours / 24 * 2 * np.pi)[:, None]
    features = heat_bank(wave, [0], 1, depth_m).features[24 * 30 :]
    for place, (diffusivity, surface_per_m) in enumerate(COLUMNS):
        q = math.sqrt(2 * math.pi / 86_400 / (2 * diffusivity))
        expected = surface_per_m * math.exp(-q * depth_m) / math.hypot(surface_per_m + q, q)
        assert np.ptp(features[:, place]) / 2 == pytest.approx(expected, rel=0.06, abs=0.004)


@pytest.mark.parametrize("depth_m", [-0.01, 2.01, math.nan])
def test_a_depth_outside_the_column_is_refused(depth_m):
    with pytest.raises(ValueError, match=r"depth_m is .*want 0 to 2\.0"):
        heat_bank(DRIVES, [100], 10, depth_m)


def test_trust_comes_back_within_a_day():
    known = np.ones(72)
    known[30] = 0.0
    found = settled(known)
    assert found[29] == pytest.approx(1.0)
    assert found[30] == pytest.approx(23 / 24)
    assert found[54] == pytest.approx(1.0)
