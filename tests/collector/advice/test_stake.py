"""A stake in the air and a probe that fails: what is known then, what is called, and in which words."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from collector.advice.fault_words import fault_words
from collector.advice.faults import failing_probes, lies_in_air
from collector.advice.rules import step
from collector.advice.wording import message, word, worth_showing
from collector.calls import Due, Evidence, Job, Memory
from collector.model import DISTRUSTED, Flag
from collector.units import Quantity
from tests.collector.advice.test_rules import HEARD, table, walk
from tests.collector.advice.test_wording import METRIC
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakeReadings, M, T, bed, every, probe, state

DEPTHS_M = (0.05, 0.12, 0.20)
TEN = 10 * MINUTE_MS
BED = bed(thermometers_m=DEPTHS_M)
OUT_MS = NOW_MS - 95 * MINUTE_MS // TEN * TEN


def lying_out(*, since_ms=OUT_MS, until_ms=NOW_MS + 1, days=2.2):
    """Two days of readings, those of a span marked as dug up."""
    readings = FakeReadings()
    for one in (*(probe(T, depth_m) for depth_m in DEPTHS_M), probe(M, 0.15)):
        value = 0.2 if one.quantity is M else 16.0
        readings.say(one, value, *every(TEN, NOW_MS - round(days * DAY_MS) // TEN * TEN, NOW_MS))
        readings.mark(one.id, since_ms, until_ms, Flag.DUG_UP, on=True)
    return readings


def failing(how, since_ms=NOW_MS - DAY_MS, depth_m=0.12):
    readings = lying_out(since_ms=0, until_ms=0)
    readings.mark(probe(T, depth_m).id, since_ms, NOW_MS + 1, how, on=True)
    return readings


def called(job, seen, memory=None):
    return step(memory or Memory("terrace", job), seen, None).call


# ---------------------------------------------------------------- what is known


def test_while_the_stake_lies_in_the_air_nothing_is_known_of_the_soil_now():
    now = state(BED, lying_out())
    assert (now.temperature, now.clove, now.moisture, now.water) == (None, None, None, None)
    assert (now.dug_up, now.dug_up_ms) == (True, OUT_MS)
    assert now.heard_ms == NOW_MS  # it speaks, only not of the soil
    assert now.clove_mean_c == 16.0  # of the hours before


def test_once_it_is_back_its_readings_count_again():
    now = state(BED, lying_out(since_ms=NOW_MS - 5 * HOUR_MS, until_ms=NOW_MS - 2 * HOUR_MS))
    assert (now.dug_up, now.dug_up_ms) == (False, None)
    assert now.clove.value == 16.0


def test_a_stake_that_lies_out_for_longer_than_is_looked_at_has_no_beginning():
    readings = lying_out(since_ms=0)
    series = {one.id: readings.series(one.id, 0, 1 << 62) for one in BED.probes}
    assert lies_in_air(BED, series, NOW_MS) == (True, None)
    assert lies_in_air(BED, {}, NOW_MS) == (False, None)


def test_a_failing_probe_is_left_out_and_the_others_speak_for_it():
    now = state(BED, failing(Flag.DRIFTS))
    assert [(one.probe.depth_m, one.how, one.since_ms) for one in now.failing] == [(0.12, Flag.DRIFTS, NOW_MS - DAY_MS)]
    assert now.temperature.depths_m == (0.05, 0.20)
    assert not now.clove.measured


def test_every_mark_of_the_watch_keeps_a_reading_from_counting():
    for flag in (Flag.DUG_UP, Flag.DRIFTS, Flag.SCATTERS, Flag.STANDS_STILL):
        assert flag & DISTRUSTED
    assert (Flag.DUG_UP | Flag.DRIFTS | Flag.SCATTERS | Flag.STANDS_STILL).words == "dug_up drifts scatters stands_still"


def test_a_probe_that_has_not_spoken_fails_at_nothing():
    assert failing_probes(BED, {}, NOW_MS) == ()


# ---------------------------------------------------------------- what is called


def test_in_soil_out_out_back_is_nothing_a_call_nothing_cleared():
    soil, out = replace(HEARD, dug_up=False), replace(HEARD, dug_up=True)
    assert table(walk(Job.STAKE, soil, out, out, soil)) == [
        (Due.FINE, ""), (Due.DUE, "told"), (Due.DUE, ""), (Due.FINE, "cleared"),
    ]  # fmt: skip


def test_it_is_back_in_is_believed_for_six_hours():
    out = replace(HEARD, dug_up=True)
    steps = walk(Job.STAKE, *[out] * 9, marks=dict.fromkeys(range(1, 9), NOW_MS + HOUR_MS))
    assert [due for due, _ in table(steps)] == [Due.DUE] + [Due.DONE] * 6 + [Due.DUE] * 2
    assert table(steps)[7] == (Due.DUE, "told")


def test_a_stake_in_the_air_for_hours_is_not_called_silent_as_well():
    now = state(BED, lying_out(since_ms=NOW_MS - 14 * HOUR_MS))
    assert called(Job.LOOK, now).due is Due.FINE
    shown = worth_showing([called(job, now) for job in (Job.SHADE, Job.WATER, Job.LOOK, Job.STAKE)])
    assert [call.job for call in shown] == [Job.STAKE]


def test_fails_fails_mended_is_a_call_nothing_cleared():
    bad, good = state(BED, failing(Flag.SCATTERS)), state(BED, lying_out(since_ms=0, until_ms=0))
    assert table(walk(Job.PROBE, bad, bad, good, every_ms=DAY_MS)) == [(Due.DUE, "told"), (Due.DUE, ""), (Due.FINE, "cleared")]


def test_both_calls_say_that_their_evidence_is_weak_and_has_no_source():
    for job, seen in ((Job.STAKE, state(BED, lying_out())), (Job.PROBE, state(BED, failing(Flag.DRIFTS)))):
        call = called(job, seen)
        assert call.evidence is Evidence.WEAK
        assert "no source" in call.source


# ---------------------------------------------------------------- in which words


def test_a_dug_up_stake_is_told_with_how_many_depths_when_and_the_caution():
    seen = state(BED, lying_out())
    worded = word(called(Job.STAKE, seen), seen, METRIC)
    at = METRIC.clock(OUT_MS)
    assert (worded.flag, worded.heading, worded.button) == ("Due today", "Push the stake back in", "It is back in")
    assert worded.sentence == f"All three depths jumped towards the air at {at}. Until it is back, nothing is known."
    title, text = message(worded, seen)
    assert title == "Terrace bed: push the stake back in"
    assert text.endswith("Buried lines: look before you push.")
    assert "Push it in so that its probes lie 5, 12, 15 and 20 cm below the soil, not below the mulch." in worded.why


def test_a_stake_of_two_thermometers_says_both_and_yesterday_says_so():
    two = bed(thermometers_m=(0.05, 0.20))
    seen = state(two, lying_out(since_ms=NOW_MS - 20 * HOUR_MS))
    call = called(Job.STAKE, seen)
    assert word(call, seen, METRIC).sentence.startswith("Both depths jumped towards the air yesterday at ")


@pytest.mark.parametrize(
    ("how", "says"),
    [
        (Flag.DRIFTS, "It drifts away from what the other depths tell, since yesterday."),
        (Flag.SCATTERS, "It jumps about as no soil does, since yesterday. Check its plug and cable"),
        (Flag.STANDS_STILL, "It says the same while the soil around it moves, since yesterday."),
    ],
)
def test_a_failing_probe_is_named_by_its_depth_with_how_since_when_and_what_to_do(how, says):
    seen = state(BED, failing(how))
    worded = word(called(Job.PROBE, seen), seen, METRIC)
    assert (worded.heading, worded.depth_m) == ("Check the probe at 12 cm", 0.12)
    assert worded.sentence.startswith(says)
    assert worded.sentence.endswith("The others speak for its depth until then.")


def test_two_failing_probes_are_one_call():
    readings = failing(Flag.DRIFTS)
    readings.mark(probe(T, 0.20).id, NOW_MS - HOUR_MS, NOW_MS + 1, Flag.SCATTERS, on=True)
    seen = state(BED, readings)
    worded = word(called(Job.PROBE, seen), seen, METRIC)
    assert worded.heading == "Check the probes at 12 and 20 cm"
    assert worded.sentence.startswith("One drifts away")


def test_a_probe_on_a_stake_in_the_air_says_so_on_its_line():
    last = lying_out().latest()[probe(T, 0.12).id]
    assert fault_words(probe(T, 0.12), last, METRIC) == "Says 16 °C, out of the air: its stake was dug up. Push it back in."


def test_a_probe_at_the_cloves_that_fails_is_not_called_silent_as_well():
    far = bed(thermometers_m=(0.12, 0.40))
    readings = FakeReadings()
    for depth_m in (0.12, 0.40):
        readings.say(probe(T, depth_m), 16.0, *every(TEN, NOW_MS - 2 * DAY_MS, NOW_MS))
    readings.mark(probe(T, 0.12).id, NOW_MS - 7 * HOUR_MS, NOW_MS + 1, Flag.DRIFTS, on=True)
    now = state(far, readings)
    assert (now.clove, now.clove_mean_c) == (None, None)
    assert called(Job.LOOK, now).due is Due.FINE
    assert called(Job.PROBE, now).due is Due.DUE


# ---------------------------------------------------------------- swapped


def waves(*depths_m, now_ms=NOW_MS):
    """Three days of a wave that is damped and delayed with depth; the probes of the bed stand at `depths_m` in truth."""
    readings = FakeReadings()
    for said_m, true_m in zip((0.05, 0.12, 0.20), depths_m, strict=True):

        def warmth(at_ms, depth_m=true_m):
            return 15 + 5 * math.exp(-depth_m / 0.10) * math.sin(2 * math.pi * at_ms / DAY_MS - depth_m / 0.10)

        readings.say(probe(T, said_m), warmth, *every(30 * MINUTE_MS, now_ms - 3 * DAY_MS, now_ms))
    return readings


def test_two_probes_in_each_others_place_are_asked_about_by_their_depths():
    seen = state(BED, waves(0.12, 0.05, 0.20))
    assert [one.depth_m for one in seen.swapped] == [0.05, 0.12]
    call = called(Job.PROBE, seen)
    assert call.due is Due.DUE
    worded = word(call, seen, METRIC)
    assert worded.heading == "Are the probes at 5 and 12 cm swapped?"
    assert "exchange their depths in the garden file" in worded.sentence


def test_probes_that_lie_as_they_are_said_to_are_not():
    seen = state(BED, waves(0.05, 0.12, 0.20))
    assert seen.swapped is None
    assert called(Job.PROBE, seen).due is Due.FINE


@pytest.mark.parametrize(("volts", "due"), [(3.29, Due.DUE), (3.31, Due.FINE)])
def test_a_battery_that_is_lower_than_it_may_be_is_called(volts, due):
    battery = replace(probe(Quantity.BATTERY, None), low_v=3.3)
    powered = replace(BED, probes=(*BED.probes, battery))
    readings = waves(0.05, 0.12, 0.20)
    readings.say(battery, volts, NOW_MS - HOUR_MS)
    seen = state(powered, readings)
    call = called(Job.PROBE, seen)
    assert call.due is due
    if due is Due.DUE:
        worded = word(call, seen, METRIC)
        assert worded.heading == "Change the battery of a stake"
        assert worded.sentence.startswith("It said 3.29 V, ")


def test_a_battery_of_which_no_limit_is_told_is_not_judged():
    battery = probe(Quantity.BATTERY, None)
    readings = FakeReadings()
    readings.say(battery, 0.5, NOW_MS)
    assert state(replace(BED, probes=(*BED.probes, battery)), readings).weak_battery is None
