"""Temperature and water between the probes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.soil.profile import Estimate, Profile, profile_of

BED = Profile((0.05, 0.15, 0.30), (22.0, 18.0, 15.0))


def test_a_depth_with_a_probe_is_measured() -> None:
    assert BED.at(0.15) == Estimate(18.0, measured=True)


def test_between_two_probes_the_value_lies_on_the_line() -> None:
    assert BED.at(0.10) == Estimate(pytest.approx(20.0), measured=False)
    assert BED.at(0.25) == Estimate(pytest.approx(16.0), measured=False)


def test_within_reach_of_the_outermost_probes_their_value_holds_and_beyond_nothing_is_known() -> None:
    assert BED.at(0.0) == Estimate(22.0, measured=False)
    assert BED.at(0.34) == Estimate(15.0, measured=False)
    assert BED.at(0.36) is None
    assert BED.at(-0.01) is None
    assert BED.at(math.nan) is None


def test_a_single_probe_is_a_profile() -> None:
    one = profile_of([(0.10, 17.0)])
    assert one is not None
    assert one.at(0.10) == Estimate(17.0, measured=True)
    assert one.at(0.14) == Estimate(17.0, measured=False)
    assert one.at(0.16) is None
    assert one.crossings(17.0) == ()


def test_no_points_are_no_profile() -> None:
    assert profile_of([]) is None


def test_unsorted_points_are_sorted_and_two_probes_at_one_depth_count_as_their_mean() -> None:
    assert profile_of([(0.20, 16.0), (0.05, 21.0), (0.20, 17.0)]) == Profile((0.05, 0.20), (21.0, 16.5))
    assert profile_of([(0.1, 10.0), (0.1 + 1e-9, 12.0)]) == Profile((0.1,), (11.0,))


@pytest.mark.parametrize("point", [(math.nan, 17.0), (0.1, math.nan), (0.1, math.inf)])
def test_a_point_that_is_not_two_finite_numbers_is_refused(point: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match=r"want two finite numbers; leave missing readings out"):
        profile_of([(0.05, 20.0), point])


@pytest.mark.parametrize("reach_m", [-0.01, math.nan, math.inf])
def test_a_reach_that_cannot_be_is_refused(reach_m: float) -> None:
    with pytest.raises(ValueError, match=r"reach_m is .*want a finite number of metres"):
        profile_of([(0.05, 20.0)], reach_m)


def test_the_profile_crosses_the_limit_between_the_probes() -> None:
    assert BED.crossings(20.0) == (pytest.approx(0.10),)
    assert BED.crossings(30.0) == ()


def test_crossings_come_shallowest_first() -> None:
    night = Profile((0.0, 0.10, 0.20, 0.30), (10.0, 20.0, 10.0, 20.0))
    assert night.crossings(15.0) == (pytest.approx(0.05), pytest.approx(0.15), pytest.approx(0.25))


def test_a_limit_met_exactly_at_a_probe_is_one_crossing_at_its_depth() -> None:
    assert Profile((0.0, 0.10, 0.20), (20.0, 18.0, 16.0)).crossings(18.0) == (0.10,)


def test_a_profile_that_only_touches_the_limit_does_not_cross_it() -> None:
    assert Profile((0.0, 0.10, 0.20), (20.0, 18.0, 20.0)).crossings(18.0) == ()
    assert Profile((0.0, 0.10), (18.0, 18.0)).crossings(18.0) == ()
    assert Profile((0.0, 0.10, 0.20), (18.0, 18.0, 20.0)).crossings(18.0) == ()


def test_a_profile_that_lies_on_the_limit_before_going_on_crosses_where_it_arrives() -> None:
    assert Profile((0.0, 0.10, 0.20, 0.30), (20.0, 18.0, 18.0, 16.0)).crossings(18.0) == (0.10,)


points = st.lists(
    st.tuples(st.integers(0, 100).map(lambda cm: cm / 100), st.floats(-20, 50, allow_nan=False)), min_size=1, max_size=8
)


@given(points, st.floats(0, 1))
def test_no_estimate_leaves_the_range_of_its_readings(rows: list[tuple[float, float]], depth_m: float) -> None:
    profile = profile_of(rows)
    assert profile is not None
    estimate = profile.at(depth_m)
    assert estimate is None or min(profile.values) - 1e-9 <= estimate.value <= max(profile.values) + 1e-9


@given(points, st.floats(-20, 50))
def test_crossings_are_in_order_and_the_profile_has_the_limit_there(rows: list[tuple[float, float]], limit: float) -> None:
    profile = profile_of(rows)
    assert profile is not None
    depths = profile.crossings(limit)
    assert list(depths) == sorted(depths)
    for depth_m in depths:
        estimate = profile.at(depth_m)
        assert estimate is not None
        steepest = max(abs(b - a) for a in profile.values for b in profile.values)
        assert abs(estimate.value - limit) <= 1e-6 + steepest * 0.02  # within 0.1 mm of a probe its value counts as measured
