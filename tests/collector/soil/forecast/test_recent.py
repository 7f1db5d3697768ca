"""The last days once more, from where the soil is now."""

import numpy as np
import pytest

from collector.soil.forecast.recent import recent

WAVE_C = np.tile(15.0 + 3.0 * np.sin(np.arange(24) / 24 * 2 * np.pi), 12)


@pytest.mark.parametrize("days", [1, 7])
def test_days_that_are_all_alike_go_on(days):
    found = recent(WAVE_C, [200, 287], 48, 2, days)
    assert found.free_c[0] == pytest.approx(WAVE_C[201:249])
    assert not found.response.any()


def test_a_soil_that_is_warmer_now_stays_so_for_days_and_comes_back_in_the_end():
    warmer_c = WAVE_C.copy()
    warmer_c[264 + 12 :] += 2.0
    off_k = recent(warmer_c, [287], 168, 1, 7).free_c[0] - np.resize(WAVE_C, 168)
    # of the 2 K, a seventh is in the mean of the week already at the hours that have been warm once
    assert off_k[0] > 2.0 * 6 / 7 - 0.01
    assert (np.diff(off_k[::24]) < 0).all()
    assert 0.5 < off_k[-1] < off_k[0]


def test_where_there_are_fewer_days_their_mean_counts_and_less_than_a_day_tells_nothing():
    young_c = WAVE_C.copy()
    young_c[:240] = np.nan
    found = recent(young_c, [250, 287], 24, 1, 7)
    assert np.isnan(found.free_c[0]).all()
    assert found.free_c[1] == pytest.approx(WAVE_C[:24])
