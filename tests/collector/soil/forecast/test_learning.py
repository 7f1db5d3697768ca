"""A member learns a linear soil from readings with gaps, and nothing from what came later."""

import numpy as np
import pytest

from collector.soil.forecast.banks import filter_bank
from collector.soil.forecast.learning import FADES_H, learned
from collector.soil.forecast.lines import forecasts_c
from tests.collector.soil.forecast.made import rmse_k

HOURS, ORIGINS = 48, [600, 624]
DRIVES = np.random.default_rng(5).normal(size=(720, 2)) + 3.0
BANK = filter_bank(DRIVES, ORIGINS, HOURS)
# a soil that shows a little of two features over a level of 11 °C
SOIL_C = 11.0 + 2.0 * BANK.features[:, 4] - 3.0 * BANK.features[:, 7]
AHEAD = np.stack([DRIVES[origin + 1 : origin + 1 + HOURS].T for origin in ORIGINS])


@pytest.mark.parametrize("fade_h", FADES_H)
def test_a_linear_soil_is_forecast_closely(fade_h):
    found = forecasts_c(learned(BANK, SOIL_C, np.ones(720), ORIGINS, fade_h), AHEAD)
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    assert rmse_k(found, true) < 0.1 * SOIL_C.std()


@pytest.mark.parametrize("every_h", [3, 6])
def test_readings_every_few_hours_teach_almost_as_well(every_h):
    sparse_c = np.where(np.arange(720) % every_h == 0, SOIL_C, np.nan)
    found = forecasts_c(learned(BANK, sparse_c, np.ones(720), ORIGINS, 24.0), AHEAD)
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    assert rmse_k(found, true) < 0.2 * SOIL_C.std()


def test_what_comes_after_an_origin_does_not_change_its_forecast_of_a_known_level():
    later_c = SOIL_C.copy()
    later_c[625:] += 40.0
    before, after = (learned(BANK, one_c, np.ones(720), ORIGINS, 24.0) for one_c in (SOIL_C, later_c))
    assert after.response == pytest.approx(before.response, abs=1e-4)
    assert after.free_c == pytest.approx(before.free_c, abs=0.01)


def test_less_than_a_day_of_readings_gives_no_forecast():
    few_c = np.full(720, np.nan)
    few_c[590:601] = 12.0
    lines = learned(BANK, few_c, np.ones(720), ORIGINS, 24.0)
    assert np.isnan(lines.free_c).all()


def test_hours_that_are_not_trusted_teach_nothing():
    spoilt_c, trust = SOIL_C.copy(), np.ones(720)
    spoilt_c[500:540] += np.linspace(0, 9, 40)
    trust[499:542] = 0.0
    found = forecasts_c(learned(BANK, spoilt_c, trust, ORIGINS, 24.0), AHEAD)
    true = np.stack([SOIL_C[origin + 1 : origin + 1 + HOURS] for origin in ORIGINS])
    assert rmse_k(found, true) < 0.1 * SOIL_C.std()
