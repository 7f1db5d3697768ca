"""What the probes say of the last watering: on courses drawn by hand, with all that goes wrong in a garden."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.advice.wetted import Cause, wetted_of
from collector.model import Flag, Series
from collector.soil.wetting import Flow
from collector.units import Quantity
from tests.fakes import NOW_MS
from tests.fakes_advice import HOUR_MS, MINUTE_MS, M, T, bed, probe

RAIN = Quantity.RAIN
ONSET_MS = NOW_MS - 4 * HOUR_MS
BED = bed(thermometers_m=(0.05, 0.20), moistures_m=(0.08, 0.20, 0.35), others=(RAIN,))
TIMES_MS = np.arange(NOW_MS - 50 * HOUR_MS, NOW_MS + 1, 10 * MINUTE_MS, dtype=np.int64)
AT_8, AT_20, AT_35 = (probe(M, depth_m) for depth_m in (0.08, 0.20, 0.35))
GONE = (0.0, 0)


def course(of, rise, late_minutes, *, onset_ms=ONSET_MS, times_ms=TIMES_MS, start=0.15, noise=0.001):
    """A probe that stands at `start` and rises by `rise` within half an hour, so many minutes after the water came."""
    scatter = np.random.default_rng(round(1000 * of.depth_m)).normal(0.0, noise, times_ms.size)
    ramp = np.clip((times_ms - onset_ms - late_minutes * MINUTE_MS) / (30 * MINUTE_MS), 0.0, 1.0)
    return series(of, times_ms, start + rise * ramp + scatter)


def series(of, times_ms, values, flags=0):
    return Series(of.id, times_ms, np.asarray(values, dtype=np.float64), np.full(times_ms.size, int(flags), dtype=np.int64))


def soil(*rises, **more):
    """The three moisture probes, each with (by how much it rises, after how many minutes)."""
    return [course(of, rise, late, **more) for of, (rise, late) in zip((AT_8, AT_20, AT_35), rises, strict=True)]


def shower(mm, *, hours_ago=4.2):
    """A gauge that says each ten minutes what fell, and caught so much in one hour."""
    wet = np.abs(TIMES_MS - (NOW_MS - hours_ago * HOUR_MS)) <= 25 * MINUTE_MS
    return series(probe(RAIN, None), TIMES_MS, np.where(wet, mm / wet.sum(), 0.0))


def ask(said, *, rain=(), marked_ms=None, of=BED, now_ms=NOW_MS):
    return wetted_of(of, said, rain, marked_ms, now_ms)


def test_a_step_that_nobody_told_of_begins_a_watering_and_each_depth_tells_when_it_came():
    found = ask(soil((0.10, 0), (0.06, 100), GONE))
    assert found.cause is Cause.UNTOLD
    assert found.onset_ms == pytest.approx(ONSET_MS, abs=20 * MINUTE_MS)
    assert (found.reached_m, found.next_m, found.flow) == (0.20, 0.35, Flow.STOP)
    assert found.reached_ms == found.stop_ms == pytest.approx(ONSET_MS + 115 * MINUTE_MS, abs=20 * MINUTE_MS)


def test_dry_days_with_noise_make_no_watering():
    assert ask(soil(GONE, GONE, GONE)) is None
    assert ask(soil(GONE, GONE, GONE, noise=0.008)) is None


def test_the_growers_word_begins_a_watering_and_a_step_just_before_it_belongs_to_it():
    unanswered = ask(soil(GONE, GONE, GONE), marked_ms=ONSET_MS)
    assert (unanswered.cause, unanswered.onset_ms, unanswered.reached_m) == (Cause.WATERING, ONSET_MS, 0.0)
    after = ask(soil((0.10, 0), GONE, GONE), marked_ms=ONSET_MS + HOUR_MS)
    assert after.onset_ms == pytest.approx(ONSET_MS, abs=20 * MINUTE_MS)
    assert (after.cause, after.off, after.reached_m) == (Cause.WATERING, True, 0.08)


def test_the_newest_of_two_waterings_is_the_one_spoken_of():
    morning, evening = NOW_MS - 14 * HOUR_MS, NOW_MS - 3 * HOUR_MS
    once, twice = course(AT_8, 0.06, 0, onset_ms=morning), course(AT_8, 0.06, 0, onset_ms=evening, start=0.0, noise=0.0)
    said = [replace(once, value=once.value + twice.value), course(AT_20, 0.05, 120, onset_ms=morning)]
    found = ask(said)
    assert found.onset_ms == pytest.approx(evening, abs=20 * MINUTE_MS)
    assert found.reached_m == 0.08


def test_a_deep_probe_that_answers_hours_later_answers_the_same_watering():
    onset_ms = NOW_MS - 16 * HOUR_MS
    found = ask(soil((0.10, 0), (0.06, 120), (0.05, 13 * 60), onset_ms=onset_ms))
    assert found.onset_ms == pytest.approx(onset_ms, abs=20 * MINUTE_MS)
    assert (found.reached_m, found.flow) == (0.35, Flow.TOO_MUCH)
    assert found.stop_ms < found.reached_ms


def test_after_two_days_a_watering_is_no_longer_spoken_of():
    assert ask(soil(GONE, GONE, GONE), marked_ms=NOW_MS - 47 * HOUR_MS) is not None
    assert ask(soil(GONE, GONE, GONE), marked_ms=NOW_MS - 49 * HOUR_MS) is None


def test_rain_of_a_gauge_is_the_cause_of_a_step_soon_after_and_a_drizzle_is_not():
    rain = ask(soil((0.10, 0), GONE, GONE), rain=[shower(8.0)])
    assert (rain.cause, rain.raining, rain.rain_known) == (Cause.RAIN, True, True)
    drizzle = ask(soil((0.10, 0), GONE, GONE), rain=[shower(1.0)])
    assert (drizzle.cause, drizzle.raining, drizzle.rain_known) == (Cause.UNTOLD, False, True)
    assert not ask(soil((0.10, 0), GONE, GONE)).rain_known


def test_a_hose_hours_after_the_rain_is_not_the_rain():
    found = ask(soil((0.10, 0), GONE, GONE), rain=[shower(8.0, hours_ago=8)])
    assert not found.raining


def test_it_runs_while_a_probe_has_just_stepped():
    said = soil((0.10, 0), (0.06, 100), GONE)
    assert [ask(said, now_ms=ONSET_MS + hours * HOUR_MS).running for hours in (1, 3, 4)] == [True, True, False]


# ---------------------------------------------------------------- what goes wrong


@pytest.mark.parametrize("at", [-40, -2, -1])
def test_a_single_spike_is_no_water(at):
    said = soil(GONE, GONE, GONE)
    said[0].value[at] += 0.2
    said[1].value[at - 30] = 0.0
    assert ask(said) is None


@pytest.mark.parametrize("in_air", [0.0, 0.015])
def test_a_stake_that_is_pushed_in_is_no_water(in_air):
    out = (TIMES_MS > ONSET_MS - 3 * HOUR_MS) & (TIMES_MS < ONSET_MS)
    said = [replace(one, value=np.where(out, in_air, one.value + np.where(out, 0, 0.03))) for one in soil(GONE, GONE, GONE)]
    assert ask(said) is None
    new = [replace(one, value=np.where(TIMES_MS < ONSET_MS, in_air, one.value)) for one in soil(GONE, GONE, GONE)]
    assert ask(new) is None


def test_readings_that_the_checks_distrust_are_no_water():
    (top, *_) = soil((0.2, 0), GONE, GONE)
    assert ask([series(AT_8, top.time_ms, top.value, Flag.OUT_OF_RANGE)]) is None


def test_a_gap_hides_no_answer_and_makes_none():
    said = [series(AT_8, one.time_ms[keep], one.value[keep]) for one in soil((0.10, 0), GONE, GONE)[:1]
            for keep in [np.abs(TIMES_MS - ONSET_MS) > 2 * HOUR_MS]]  # fmt: skip
    assert ask(said) is None  # nobody told of water: what changed in four silent hours is not known
    told = ask(said, marked_ms=ONSET_MS)
    assert told.reached_m == 0.08


def test_thaw_is_no_water_and_a_watering_in_frost_is_not_known():
    cold = series(probe(T, 0.05), TIMES_MS, np.where(TIMES_MS < ONSET_MS, 0.2, 3.0))
    thaw = soil((0.12, 0), (0.12, 30), GONE)
    assert ask([*thaw, cold]) is None
    marked = ask([thaw[0], cold], marked_ms=ONSET_MS)
    assert (marked.reached_m, marked.frozen, marked.heard) == (0.0, True, False)
    mild = replace(cold, value=cold.value + 3.0)
    assert ask([*thaw, mild]).reached_m == 0.20


def test_a_deep_probe_that_steps_by_itself_is_not_believed_unless_none_speaks_above_it():
    said = soil(GONE, GONE, (0.06, 0))
    assert ask(said) is None
    assert ask(said, marked_ms=ONSET_MS - 10 * MINUTE_MS).reached_m == 0.0
    assert ask(said[2:]).reached_m == 0.35


def test_one_probe_alone_and_none_in_the_roots():
    lone = bed(thermometers_m=(), moistures_m=(0.08,))
    found = ask(soil((0.10, 0), GONE, GONE)[:1], of=lone)
    assert (found.reached_m, found.next_m, found.flow) == (0.08, None, Flow.NOT_KNOWN)
    assert ask([], of=bed(moistures_m=()), marked_ms=ONSET_MS) is None


def test_readings_that_come_late_give_the_same_answer_as_those_that_came_in_time():
    said = soil((0.10, 0), (0.06, 100), GONE)
    before = [series(of, one.time_ms[:-40], one.value[:-40]) for of, one in zip((AT_8, AT_20, AT_35), said, strict=True)]
    assert ask(before) is None
    assert ask(said) == ask(soil((0.10, 0), (0.06, 100), GONE))


def test_two_stakes_at_one_depth_tell_that_one_of_them_was_reached():
    other = replace(AT_8, id="other")
    two = replace(BED, probes=(*BED.probes, other))
    found = ask([*soil(GONE, GONE, GONE), course(other, 0.10, 0)], of=two)
    assert (found.reached_m, found.next_m) == (0.08, 0.20)


def test_a_reading_a_minute_and_one_an_hour_tell_the_same_depth():
    for step_minutes in (1, 60):
        times_ms = np.arange(NOW_MS - 50 * HOUR_MS, NOW_MS + 1, step_minutes * MINUTE_MS, dtype=np.int64)
        found = ask(soil((0.10, 0), (0.06, 60), GONE, times_ms=times_ms))
        assert found.reached_m == 0.20
        assert found.onset_ms == pytest.approx(ONSET_MS, abs=HOUR_MS)


@settings(max_examples=60, deadline=None)
@given(
    rise=st.floats(0.05, 0.25),
    hours_ago=st.integers(1, 40),
    pace=st.sampled_from((5, 10, 30)),
    noise=st.floats(0.0, 0.002),  # twice that is already a bad probe
    phase=st.integers(0, 29),
    start=st.floats(0.05, 0.3),
)
def test_any_clear_step_is_found_within_an_hour_of_when_it_began(rise, hours_ago, pace, noise, phase, start):
    onset_ms = NOW_MS - hours_ago * HOUR_MS - 2 * pace * MINUTE_MS
    times_ms = np.arange(NOW_MS - 50 * HOUR_MS + phase * MINUTE_MS, NOW_MS + 1, pace * MINUTE_MS, dtype=np.int64)
    found = ask([course(AT_8, rise, 0, onset_ms=onset_ms, times_ms=times_ms, start=start, noise=noise)])
    assert found is not None
    assert abs(found.onset_ms - onset_ms) <= HOUR_MS
    assert found.reached_m == 0.08
