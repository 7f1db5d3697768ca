"""Errors of the weather forecast carried through the response of the soil."""

import numpy as np
import pytest

from collector.soil.forecast import drives
from collector.soil.forecast.doubt import Doubt, spread_k
from collector.soil.forecast.inputs import AIR_C, HUMIDITY_PCT, SUN_W_M2, WIND_M_S

HOURS = 168
WEATHER = drives.HourlyWeather(
    {
        AIR_C: np.full(HOURS, 20.0),
        SUN_W_M2: np.full(HOURS, 250.0),
        WIND_M_S: np.full(HOURS, 2.0),
        HUMIDITY_PCT: np.full(HOURS, 60.0),
    },
    np.ones(HOURS),
)


def drives_of(weather):
    return drives.drives_of(weather, np.full(HOURS, 500.0))


COUNT = drives_of(WEATHER).shape[1]


def lag(constant_h, gain=1.0, drive=0):
    response = np.zeros((COUNT, HOURS))
    response[drive] = gain * (1 - np.exp(-1 / constant_h)) * np.exp(-np.arange(HOURS) / constant_h)
    return response


# A first-order lag of time constant a under first-order autoregressive noise of time constant b: var = sd^2 b / (a + b);
# textbook statistics, for continuous time and long after the beginning.
@pytest.mark.parametrize("constant_h", [12.0, 24.0])
def test_a_lag_passes_on_the_share_that_theory_says(constant_h):
    found = spread_k(lag(constant_h), WEATHER, drives_of, Doubt(2.0, 2.0, 0.0))
    assert found[-1] == pytest.approx(2.0 * np.sqrt(24.0 / (24.0 + constant_h)), rel=0.04)


def test_it_is_what_a_crowd_of_disturbed_forecasts_spreads_by():
    chance, doubt, response = np.random.default_rng(4), Doubt(1.0, 2.75, 0.3), lag(20.0, 0.8) + lag(20.0, 0.6, drive=2)
    keep = np.exp(-1.0 / 24.0)
    sd_k = np.interp(np.arange(1, HOURS + 1), (12, 156), (1.0, 2.75))
    crowd, base = [], drives_of(WEATHER)
    for _ in range(600):
        noise = chance.normal(size=(2, HOURS))
        for hour in range(1, HOURS):
            noise[:, hour] = keep * noise[:, hour - 1] + np.sqrt(1 - keep**2) * noise[:, hour]
        columns = {**WEATHER.columns, AIR_C: 20.0 + sd_k * noise[0], SUN_W_M2: 250.0 * (1 + 0.3 * noise[1])}
        off = drives_of(drives.HourlyWeather(columns, WEATHER.known)) - base
        crowd.append(sum(np.convolve(response[drive], off[:, drive])[:HOURS] for drive in range(COUNT)))
    found = spread_k(response, WEATHER, drives_of, doubt)
    assert found[23::24] == pytest.approx(np.std(crowd, axis=0)[23::24], rel=0.12)


def test_no_doubt_spreads_nothing_and_no_response_feels_nothing():
    assert spread_k(lag(10.0), WEATHER, drives_of, Doubt(0.0, 0.0, 0.0)).tolist() == [0.0] * HOURS
    assert spread_k(np.zeros((COUNT, HOURS)), WEATHER, drives_of, Doubt()).tolist() == [0.0] * HOURS


@pytest.mark.parametrize("wrong", [-0.1, np.nan, np.inf])
def test_a_doubt_below_zero_or_without_a_number_is_refused(wrong):
    with pytest.raises(ValueError, match=r"sun_share is .*want 0 or more"):
        Doubt(sun_share=wrong)
