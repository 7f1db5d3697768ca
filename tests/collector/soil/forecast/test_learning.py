"""A member learns a linear soil from readings with gaps, and nothing from what came later."""

import numpy as np
import pytest

from collector.soil.forecast.banks import filter_bank
from collector.soil.forecast.learning import FADES_H, MEMORIES_D, learned
from collector.soil.forecast.lines import forecasts_c
from tests.collector.soil.forecast.made import rmse_k

HOURS, ORIGINS = 48, [600, 624]
DRIVES = np.random.default_rng(5).normal(size=(720, 2)) + 3.0
BANK = filter_bank(DRIVES, ORIGINS, HOURS)
# a soil that shows a little of two features over a level of 11 °C
SOIL_C = 11.0 + 2.0 * BANK.features[:, 4] - 3.0 * BANK.features[:, 7]
NOTHING_EXPECTED = np.zeros(BANK.features.shape[1])
AHEAD = np.stack([DRIVES[origin + 1 : origin + 1 + HOURS].T for origin in ORIGINS])


def learn(target_c, trust=None, fade_h=24.0, memory_d=MEMORIES_D[-1], expected=NOTHING_EXPECTED):
    return learned(BANK, target_c, np.ones(720) if trust is None else trust, ORIGINS, fade_h, memory_d, expected)


@pytest.mark.parametrize("memory_d", MEMORIES_D)
@pytest.mark.parametrize("fade_h", FADES_H)
def test_a_linear_soil_is_forecast_closely(fade_h, memory_d):
    found = forecasts_c(learn(SOIL_C, fade_h=fade_h, memory_d=memory_d), AHEAD)
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    assert rmse_k(found, true) < 0.1 * SOIL_C.std()


@pytest.mark.parametrize("every_h", [3, 6])
def test_readings_every_few_hours_teach_almost_as_well(every_h):
    sparse_c = np.where(np.arange(720) % every_h == 0, SOIL_C, np.nan)
    found = forecasts_c(learn(sparse_c), AHEAD)
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    assert rmse_k(found, true) < 0.2 * SOIL_C.std()


def test_what_comes_after_an_origin_does_not_change_its_forecast_of_a_known_level():
    later_c = SOIL_C.copy()
    later_c[625:] += 40.0
    before, after = (learn(one_c) for one_c in (SOIL_C, later_c))
    assert after.response == pytest.approx(before.response, abs=1e-4)
    assert after.free_c == pytest.approx(before.free_c, abs=0.01)


def test_less_than_a_day_of_readings_gives_no_forecast():
    few_c = np.full(720, np.nan)
    few_c[590:601] = 12.0
    lines = learn(few_c)
    assert np.isnan(lines.free_c).all()


def test_hours_that_are_not_trusted_teach_nothing():
    spoilt_c, trust = SOIL_C.copy(), np.ones(720)
    spoilt_c[500:540] += np.linspace(0, 9, 40)
    trust[499:542] = 0.0
    found = forecasts_c(learn(spoilt_c, trust), AHEAD)
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    assert rmse_k(found, true) < 0.1 * SOIL_C.std()


def test_after_a_day_of_readings_a_soil_that_is_as_expected_is_foretold_and_another_is_not():
    young_c = np.where(np.arange(720) > ORIGINS[0] - 30, SOIL_C, np.nan)
    expected = NOTHING_EXPECTED.copy()
    expected[[4, 7]] = 2.0, -3.0
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    as_expected, untold = (forecasts_c(learn(young_c, expected=one), AHEAD) for one in (expected, NOTHING_EXPECTED))
    assert rmse_k(as_expected, true) < 0.1 * SOIL_C.std()
    assert rmse_k(untold, true) > 2.0 * rmse_k(as_expected, true)


def test_a_short_memory_follows_a_soil_that_changed_a_week_ago():
    changed_c = np.where(np.arange(720) < ORIGINS[0] - 7 * 24, 11.0 + 4.0 * BANK.features[:, 4], SOIL_C)
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    short_k, long_k = (rmse_k(forecasts_c(learn(changed_c, memory_d=memory_d), AHEAD), true) for memory_d in MEMORIES_D)
    assert short_k < 0.7 * long_k
