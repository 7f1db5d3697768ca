"""Time between readings that come when they come, and the gaps in it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.crop.spans import both_known, lines_of, longest_run_s, runs_s, spans_of
from tests.collector.crop.made import HOUR_MS, flat, hours, values

TIMES = hours(5)
ALL = np.ones(5, dtype=bool)


def test_the_time_is_cut_at_the_readings_and_at_its_ends() -> None:
    spans = spans_of(TIMES, ALL, HOUR_MS // 2, 3 * HOUR_MS)
    assert spans.begin_ms.tolist() == [HOUR_MS // 2, HOUR_MS, 2 * HOUR_MS]
    assert spans.end_ms.tolist() == [HOUR_MS, 2 * HOUR_MS, 3 * HOUR_MS]
    assert spans.known.all()
    assert spans.known_s == 2.5 * 3600
    assert spans.gap_s == 0.0


def test_time_before_the_first_and_after_the_last_reading_is_a_gap() -> None:
    spans = spans_of(TIMES, ALL, -2 * HOUR_MS, 7 * HOUR_MS)
    assert spans.known.tolist() == [False, True, True, True, True, False]
    assert spans.gap_s == 5 * 3600
    assert spans.known_s == 4 * 3600


def test_two_readings_too_far_apart_have_a_gap_between_them() -> None:
    apart = np.array([0, 1, 5, 6], dtype=np.int64) * HOUR_MS
    spans = spans_of(apart, np.ones(4, dtype=bool), 0, 6 * HOUR_MS, longest_s=3 * 3600.0)
    assert spans.known.tolist() == [True, False, True]
    assert spans.gap_s == 4 * 3600


def test_a_reading_that_is_not_known_makes_its_neighbours_meet_or_a_gap() -> None:
    known = np.array([True, False, True, True, True])
    assert spans_of(TIMES, known, 0, 4 * HOUR_MS).gap_s == 0.0
    assert spans_of(TIMES, known, 0, 4 * HOUR_MS, longest_s=3600.0).gap_s == 2 * 3600


def test_with_no_readings_all_of_the_time_is_a_gap() -> None:
    nothing = np.empty(0, dtype=np.int64)
    spans = spans_of(nothing, np.empty(0, dtype=bool), 0, HOUR_MS)
    assert spans.gap_s == 3600
    assert spans.both_ends(np.empty(0, dtype=bool)).tolist() == [False]
    lines = lines_of(nothing, np.empty(0), 0, HOUR_MS)
    assert (lines.gap_s, lines.known_s) == (3600, 0.0)
    assert np.isnan(lines.mean())
    assert lines.inside_s(0.0, 10.0) == 0.0


def test_a_run_is_unbroken_and_ends_at_a_span_that_does_not_hold() -> None:
    spans = spans_of(TIMES, ALL, 0, 4 * HOUR_MS)
    begins_ms, lengths_s = runs_s(spans, np.array([True, True, False, True]))
    assert begins_ms.tolist() == [0, 3 * HOUR_MS]
    assert lengths_s.tolist() == [7200, 3600]
    assert longest_run_s(spans, np.zeros(4, dtype=bool)) == 0.0


def test_a_span_holds_where_both_its_ends_do() -> None:
    spans = spans_of(TIMES, ALL, 0, 4 * HOUR_MS)
    assert spans.both_ends(np.array([True, True, False, True, True])).tolist() == [True, False, False, True]


def test_a_straight_line_spends_its_time_in_a_band_by_its_share_of_the_band() -> None:
    rising = lines_of(hours(2), values(-5.0, 15.0), 0, HOUR_MS)
    assert rising.inside_s(0.0, 10.0) == 1800
    assert rising.above_s(10.0) == pytest.approx(900)
    falling = lines_of(hours(2), values(15.0, -5.0), 0, HOUR_MS)
    assert falling.inside_s(0.0, 10.0) == 1800
    half = lines_of(hours(2), values(-5.0, 15.0), 0, HOUR_MS // 2)  # from -5 to 5: half of it above 0
    assert half.inside_s(0.0, 10.0) == 900


def test_the_edge_of_a_band_belongs_to_it_and_a_value_is_not_above_itself() -> None:
    level = lines_of(hours(2), flat(10.0, 2), 0, HOUR_MS)
    assert level.inside_s(0.0, 10.0) == 3600
    assert level.above_s(10.0) == 0.0


def test_a_mean_is_that_of_the_known_time() -> None:
    times = np.array([0, 1, 9, 10], dtype=np.int64) * HOUR_MS
    lines = lines_of(times, values(10.0, 20.0, 0.0, 0.0), 0, 10 * HOUR_MS)
    assert lines.mean() == pytest.approx(7.5)


@given(st.lists(st.floats(-30.0, 50.0), min_size=2, max_size=6), st.floats(-20.0, 20.0), st.floats(0.1, 30.0))
def test_a_clipped_mean_agrees_with_many_small_steps(readings: list[float], least: float, height: float) -> None:
    # the reference is NumPy's own interpolation and clipping, summed over 2000 steps
    times, temperature_c = hours(len(readings)), np.array(readings)
    lines = lines_of(times, temperature_c, 0, int(times[-1]))
    steps_ms = (np.arange(2000) + 0.5) / 2000 * float(times[-1])
    expected = np.clip(np.interp(steps_ms, times, temperature_c), least, least + height).mean()
    assert lines.mean(least, least + height) == pytest.approx(expected, abs=0.02)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="5 times for 4 readings"):
        spans_of(TIMES, ALL[:4], 0, HOUR_MS)
    with pytest.raises(ValueError, match="each later than the one before"):
        spans_of(TIMES[::-1], ALL, 0, HOUR_MS)
    with pytest.raises(ValueError, match="want an end after the beginning"):
        spans_of(TIMES, ALL, HOUR_MS, HOUR_MS)
    with pytest.raises(ValueError, match="2 readings of the one and 3 of the other"):
        both_known(flat(1.0, 2), flat(1.0, 3))
