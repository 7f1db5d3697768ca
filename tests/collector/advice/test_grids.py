"""What is read over a grid by weights is what is read from the profile of each of its times."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.advice.grids import profiles_over, read_over
from collector.advice.temperatures import at_clove
from tests.fakes import NOW_MS
from tests.fakes_advice import HOUR_MS, MINUTE_MS, FakeReadings, T, bed, probe

GAP_MS = 2 * HOUR_MS
DEPTHS_M = (0.05, 0.10, 0.10, 0.20)
SAID = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 40), st.floats(-5.0, 40.0)), max_size=60)


@settings(deadline=None)
@given(SAID, st.sampled_from([0.02, 0.08, 0.10, 0.15, 0.24, 0.60]))
def test_weights_by_depth_tell_what_each_profile_tells(said, clove_m):
    readings, of = FakeReadings(), bed(thermometers_m=(), clove_m=clove_m)
    probes = [probe(T, depth_m, f"bed{number}") for number, depth_m in enumerate(DEPTHS_M)]
    for number, quarter, value in said:
        readings.say(probes[number], value, NOW_MS + quarter * 15 * MINUTE_MS)
    series = {one.id: readings.series(one.id, 0, 2**62) for one in probes}
    grid_ms = NOW_MS + np.arange(0, 11 * HOUR_MS, 10 * MINUTE_MS)

    def read(profile):
        found = [at_clove(of, profile), profile.at(0.07), profile.at(0.5)]
        return [np.nan if one is None else one.value for one in found]

    wanted = [[np.nan] * 3 if one is None else read(one) for one in profiles_over(probes, series, grid_ms, GAP_MS)]
    made = read_over(probes, series, grid_ms, GAP_MS, read)
    if made.shape[1] == 0:
        assert np.isnan(wanted).all()
    else:
        np.testing.assert_allclose(made, wanted, atol=1e-9)


def test_a_bed_of_no_probe_is_known_nowhere():
    grid_ms = NOW_MS + np.arange(0, HOUR_MS, 10 * MINUTE_MS)
    assert read_over([], {}, grid_ms, GAP_MS, lambda _: [1.0]).shape == (6, 0)
