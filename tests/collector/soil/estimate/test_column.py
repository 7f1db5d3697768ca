"""The column of a moment: through the probes, with a band between them, and no farther than it can be told."""

from __future__ import annotations

import numpy as np
import pytest

from collector.soil.estimate.column import Column, column_of, through_probes
from collector.soil.estimate.season import Thermometer, temperatures_at
from collector.soil.profile import Profile
from tests.collector.soil.estimate.ground import DAY_MS, changed, stake, times_ms, truth_c

DEPTHS_M = (0.05, 0.12, 0.30)
NOW_MS = int(12.6 * DAY_MS)


def column(thermometers: list[Thermometer], late_m: tuple[float, ...] = ()) -> Column:
    known = temperatures_at(thermometers, NOW_MS)
    assert known is not None
    said = tuple(float(one.value_c[one.time_ms <= NOW_MS][-1]) for one in thermometers)
    return column_of(known, Profile(tuple(one.depth_m for one in thermometers), said), late_m)


def test_where_a_probe_sits_it_says_what_the_probe_says():
    thermometers = stake(DEPTHS_M, times_ms(20))
    found = column(thermometers)
    assert found.depths_m == DEPTHS_M
    for depth_m, value_c in zip(DEPTHS_M, found.values, strict=True):
        assert (found.at(depth_m).value, found.at(depth_m).measured, found.at(depth_m).band) == (value_c, True, None)


def test_just_beside_a_probe_it_is_worked_out_and_nearly_the_same():
    thermometers = stake(DEPTHS_M, times_ms(20))
    off = [changed(thermometers[0], thermometers[0].value_c + 0.4), *thermometers[1:]]
    beside = column(off).at(0.051)
    assert not beside.measured
    assert beside.value == pytest.approx(column(off).values[0], abs=0.15)


def test_between_probes_the_wave_of_the_day_is_followed_and_the_band_holds_the_truth():
    """A straight line between 12 and 30 cm misses the damped wave there by more (Carslaw & Jaeger 1959, from memory)."""
    found = column(stake(DEPTHS_M, times_ms(20)))
    true_c = float(truth_c(np.array([NOW_MS]), 0.20)[0])
    line_c = float(np.interp(0.20, DEPTHS_M, found.values))
    told = found.at(0.20)
    assert abs(told.value - true_c) < told.band < 1.0
    assert abs(told.value - true_c) < abs(line_c - true_c)


def test_five_centimetres_beyond_the_outermost_probes_it_ends():
    found = column(stake((0.08, 0.20), times_ms(20)))
    assert [found.at(depth_m) is not None for depth_m in (0.02, 0.03, 0.25, 0.26, float("nan"))] == [
        False, True, True, False, False,
    ]  # fmt: skip
    assert found.at(0.03).band > found.at(0.14).band


def test_a_probe_that_is_late_is_no_longer_measured_and_has_a_band():
    found = column(stake(DEPTHS_M, times_ms(20)), late_m=(0.12,))
    assert not found.at(0.12).measured
    assert found.at(0.12).band > 0
    assert found.at(0.05).measured


def test_the_limit_is_crossed_where_the_curve_crosses_it_and_not_below_the_deepest_probe():
    found = column(stake(DEPTHS_M, times_ms(20)))
    limit_c = (found.values[0] + found.values[1]) / 2
    (crossing_m,) = [depth_m for depth_m in found.crossings(limit_c) if 0.05 < depth_m < 0.12]
    assert found.at(crossing_m).value == pytest.approx(limit_c, abs=0.01)
    assert all(depth_m <= 0.30 for depth_m in found.crossings(found.at(0.33).value))


def test_one_thermometer_tells_of_its_neighbourhood_and_of_no_crossing():
    found = column(stake((0.12,), times_ms(20)))
    assert found.at(0.09).band > 0.1
    assert found.at(0.18) is None
    assert found.crossings(found.at(0.10).value) == ()


def test_a_depth_outside_the_ground_is_refused():
    known = temperatures_at(stake(DEPTHS_M, times_ms(3)), 2 * DAY_MS)
    with pytest.raises(ValueError, match="want depths from 0"):
        through_probes(known, np.array([2.0]))
