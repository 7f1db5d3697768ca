"""The forecast on measured soil, every eighth day of the warm half year at Bondville, Illinois (NOAA, 1998; public domain).

The yardstick is the better of two naive forecasts: the same hour of the last day, and the mean of the last three days at
that hour. The bars are those that the whole table is held to, for the worst site. Weather ahead: the observed one.
"""

import numpy as np
import pytest

from tests.bench.measured import BONDVILLE, Measured, bondville, score

pytestmark = pytest.mark.skipif(not BONDVILLE.exists(), reason=f"needs {BONDVILLE.name} in the folder that COOLDEPTH_DATA names")

DEPTH_M, EVERY_DAYS = 0.16, 8


@pytest.fixture(scope="module")
def measured() -> Measured:
    return bondville()


@pytest.fixture(scope="module")
def rows(measured):
    return list(measured.noons(1998, EVERY_DAYS))


def test_with_weather_it_halves_the_error_of_the_naive_forecasts(measured, rows):
    found = score(measured, rows, DEPTH_M, (0.04, 0.16, 0.32))
    assert len(found.error_k) == len(rows) > 20
    assert found.ratio(1) <= 0.85
    assert found.ratio(3) <= 0.60
    assert found.ratio(5) <= 0.60
    # 80 % nominal; so few forecasts cannot tell it closer
    assert 0.70 <= found.held() <= 0.92


def test_without_weather_it_is_no_worse_than_the_better_naive_forecast_and_better_at_72_hours(measured, rows):
    found = score(measured, rows, DEPTH_M, (0.16,), weather=False)
    assert max(found.ratio(day) for day in range(1, 8)) <= 1.0
    at_72_h = [np.sqrt(np.nanmean(errors_k[:, 66:78] ** 2)) for errors_k in (found.error_k, found.last_day_k, found.three_days_k)]
    assert at_72_h[0] < min(at_72_h[1:])


def test_a_depth_without_a_probe_is_still_foretold_better_than_by_a_probe_and_no_model(measured, rows):
    found = score(measured, rows, DEPTH_M, (0.08, 0.32))
    assert found.ratio(3) <= 0.75
