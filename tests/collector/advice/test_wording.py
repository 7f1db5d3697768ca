"""Calls in the grower's words: numbers with their units and the limit beside them, in the garden's units and time."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from collector.advice.fault_words import fault_words
from collector.advice.rules import RULES, step
from collector.advice.voice import Voice
from collector.advice.water_words import water_in_brief
from collector.advice.wording import cool_line, fine_sentence, message, word, worth_showing
from collector.calls import Due, Job, Memory
from collector.model import Flag, Reading
from collector.soil.profile import Profile
from collector.units import Quantity, UnitSystem
from tests.collector.advice.test_rules import HEARD, NOTHING, UNKNOWN, dry, silent_for, warm
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, M, T, bed, probe

LISBON = ZoneInfo("Europe/Lisbon")
OF_THE_SOIL = (Job.SHADE, Job.WATER, Job.LOOK, Job.HOSE, Job.STAKE, Job.PROBE)
METRIC, US = Voice(UnitSystem.METRIC, LISBON), Voice(UnitSystem.US, LISBON)


def called(job, seen, *, mark_ms=None, told=False):
    memory = Memory(
        "terrace", job, Due.DUE if told else Due.FINE, NOW_MS - HOUR_MS, NOW_MS - HOUR_MS if told else None, told=Due.DUE
    )
    return step(memory, seen, mark_ms).call


def worded(job, seen, voice=METRIC, **more):
    return word(called(job, seen, **more), seen, voice)


# ---------------------------------------------------------------- shade


def test_a_shade_call_has_the_number_and_the_limit_in_one_sentence():
    call = worded(Job.SHADE, warm(18.64, 18.0))
    assert (call.flag, call.heading, call.button) == ("Due today", "Lay the shade cloth", "Cloth is laid")
    assert call.sentence == "The cloves averaged 18.6 °C over the last 24 hours; your limit is 18 °C."
    assert (call.above_ground, call.depth_m, call.evidence) == (True, 0.12, "weak")


def test_in_a_garden_with_us_units_the_same_call_is_in_fahrenheit():
    assert (
        worded(Job.SHADE, warm(19.0), US).sentence == "The cloves averaged 66.2 °F over the last 24 hours; your limit is 64.4 °F."
    )
    assert "0.9 °F under it" in worded(Job.SHADE, warm(19.0), US).rule


def test_a_mean_that_rounds_to_the_limit_is_not_said_to_be_at_it():
    assert worded(Job.SHADE, warm(18.04)).sentence == "The cloves averaged just over your limit, 18 °C, over the last 24 hours."


def test_a_rise_that_rounds_to_the_limit_is_still_said_to_be_under_it():
    assert worded(Job.SHADE, warm(17.97, 17.2)).sentence == (
        "The cloves averaged just under your limit, 18 °C, over the last 24 hours, 0.8 °C more than the day before."
    )


def test_a_rise_towards_the_limit_tells_how_much():
    call = worded(Job.SHADE, warm(17.6, 17.2))
    assert (call.flag, call.heading) == ("Soon", "Have the shade cloth ready")
    assert (
        call.sentence
        == "The cloves averaged 17.6 °C over the last 24 hours, 0.4 °C more than the day before; your limit is 18 °C."
    )


def test_a_mean_under_the_limit_that_is_still_due_says_where_it_ends():
    call = worded(Job.SHADE, warm(17.8, 18.2), told=True)
    assert call.sentence == "The cloves averaged 17.8 °C over the last 24 hours; your limit is 18 °C, fine again at 17.5 °C."


def test_why_holds_the_numbers_and_says_what_was_measured():
    measured, between = warm(18.6, 18.0), warm(18.6, clove=replace(warm(18.6).clove, measured=False))
    assert worded(Job.SHADE, measured).why == (
        "Mean at the cloves over the last 24 hours: 18.6 °C.",
        "Your cool limit: 18 °C.",
        "By common practice, without a source, a daily mean of 15.5 °C is still cool.",
        "Mean of the 24 hours before: 18 °C.",
        "At the cloves now: 18.6 °C, measured.",
        "Readings cover 24 of those 24 hours.",
    )
    assert "At the cloves now: 18.6 °C, worked out from the thermometers around them." in worded(Job.SHADE, between).why


def test_posts_for_the_cloth_come_with_a_caution_about_buried_lines():
    assert "Buried lines" in worded(Job.SHADE, warm(19.0)).caution


@pytest.mark.parametrize(
    ("seen", "flag", "sentence"),
    [
        (
            replace(NOTHING, temperature_heard_ms=NOW_MS - 5 * DAY_MS),
            "Not known since Wednesday 9:00",
            "No thermometer of this bed has been heard since Wednesday 9:00.",
        ),
        (NOTHING, "Nothing heard yet", "No thermometer of this bed has spoken yet."),
        (
            warm(17.0, clove_mean_c=None, clove_mean_cover=0.4),
            "Not known yet",
            "Only 10 of the last 24 hours are known at the cloves; 18 make a daily mean.",
        ),
        (
            warm(17.0, **UNKNOWN, bed=bed(thermometers_m=(0.02,))),
            "Not known",
            "No thermometer is near enough to the cloves, at 12 cm.",
        ),
    ],
)
def test_what_is_not_known_says_since_when_and_why_and_asks_for_nothing(seen, flag, sentence):
    call = worded(Job.SHADE, seen)
    assert (call.flag, call.sentence, call.button, call.caution) == (flag, sentence, None, None)


# ---------------------------------------------------------------- water


def test_a_water_call_has_litres_minutes_and_the_refill_line():
    call = worded(Job.WATER, dry(1.1))
    assert (call.flag, call.heading, call.button) == ("Due today", "Water 86 litres", "Watered")
    assert call.sentence == "Seven minutes of hose. The root zone is 86 litres short of full; the refill line is at 78 litres."
    assert (call.above_ground, call.evidence) == (False, "published")
    assert "FAO-56" in call.source


def test_in_a_garden_with_us_units_the_same_call_is_in_gallons():
    call = worded(Job.WATER, dry(1.1), US)
    assert call.heading == "Water 23 gallons"
    assert call.sentence.endswith("23 gallons short of full; the refill line is at 21 gallons.")


def test_a_bed_with_no_known_hose_leaves_the_minutes_out():
    no_hose = replace(dry(1.1), bed=replace(bed(), hose_l_min=None))
    assert worded(Job.WATER, no_hose).sentence.startswith("The root zone")


def test_water_that_the_hose_wastes_is_counted_in_the_heading_and_told_in_why():
    wasteful = replace(dry(1.1), bed=replace(bed(), watering_efficiency=0.8))
    call = worded(Job.WATER, wasteful)
    assert call.heading == "Water 107 litres"
    assert "The root zone is 86 litres short of full" in call.sentence
    assert "Of the water you give, 80 % is counted as staying in the root zone." in call.why


# ---------------------------------------------------------------- done, silence, fine


def test_a_job_done_says_when_and_has_no_button():
    call = worded(Job.WATER, dry(1.1), mark_ms=NOW_MS - 8 * MINUTE_MS)
    assert (call.flag, call.button) == ("Done at 8:52", None)
    assert call.sentence.startswith("Watered.")
    assert worded(Job.SHADE, warm(18.5), mark_ms=NOW_MS - 20 * HOUR_MS).flag == "Done yesterday at 13:00"


def test_a_call_that_has_stood_for_days_says_since_when():
    assert word(replace(called(Job.WATER, dry(1.1)), since_ms=NOW_MS - 2 * DAY_MS), dry(1.1), METRIC).flag == "Due since Saturday"


def test_a_silent_stake_asks_for_a_look_with_a_caution_before_it_is_pushed_in():
    call = worded(Job.LOOK, silent_for(30))
    assert (call.flag, call.heading) == ("Not known since yesterday 3:00", "Look at the stake")
    assert call.sentence == "Nothing has been heard of this bed since yesterday 3:00. Battery, cable, or was it pulled up?"
    assert call.caution == "Buried lines: look before you push a stake in."


def test_a_bed_that_never_spoke_tells_how_deep_its_probes_go():
    call = worded(Job.LOOK, NOTHING)
    assert (call.flag, call.button) == ("Nothing heard yet", None)
    assert call.sentence.endswith("Push it in so that its probes lie 5, 12, 15 and 20 cm below the soil, not below the mulch.")


def test_a_fine_bed_has_its_numbers_in_one_line():
    seen = replace(warm(16.2), water=dry(0.1).water)
    calls = [called(job, seen) for job in RULES]
    assert fine_sentence(calls, seen, METRIC) == (
        "Fine. The cloves averaged 16.2 °C over the last 24 hours; your limit is 18 °C. "
        "The root zone is 8 litres short of full; the refill line is at 78 litres."
    )
    assert worth_showing(calls) == ()


@pytest.mark.parametrize("due", [dry(1.1), dry(0.9), HEARD])
def test_a_bed_that_asks_for_something_or_is_not_known_is_not_fine(due):
    seen = replace(warm(16.2), water=due.water)
    assert fine_sentence([called(job, seen) for job in RULES], seen, METRIC) is None


@pytest.mark.parametrize(
    ("of", "words"),
    [
        (bed(limit_c=None, moistures_m=()), "Fine. No cool limit is set. No moisture probe in this bed."),
        (bed(clove_m=None, moistures_m=()), "No planting is named, so there are no cloves to keep cool."),
        (bed(thermometers_m=()), "No thermometer in this bed."),
    ],
)
def test_a_fine_bed_says_what_it_does_not_watch(of, words):
    measured = warm(16.2) if of.probes_of(T) else HEARD
    seen = replace(measured, bed=of, water=dry(0.1).water if of.probes_of(M) else None)
    calls = [called(job, seen) for job in RULES]
    assert words in fine_sentence(calls, seen, METRIC)
    assert worth_showing(calls) == ()


def test_a_bed_with_no_probe_is_not_called_fine():
    seen = replace(NOTHING, bed=replace(bed(), probes=()))
    words = fine_sentence([called(job, seen) for job in RULES], seen, METRIC)
    assert words == "Not measured. The garden file names no probe in the soil of this bed."


def test_a_bed_whose_every_job_is_just_done_says_more_than_fine():
    calls = [replace(called(job, dry(1.1)), due=Due.DONE) for job in RULES]
    assert fine_sentence(calls, dry(1.1), METRIC) == "Fine. Nothing else is asked of you."


def test_a_watering_that_is_done_says_what_was_given():
    done = replace(called(Job.WATER, dry(1.1)), due=Due.DONE)
    assert word(done, dry(1.1), METRIC).sentence.startswith("Watered. It is asked again")
    told = replace(done, numbers={**done.numbers, "given_litres": 132.4})
    assert word(told, dry(1.1), METRIC).sentence.startswith("Watered 132 litres. It is asked again")
    assert word(told, dry(1.1), US).sentence.startswith("Watered 35 gallons.")


def test_a_root_zone_that_lacks_nothing_in_all_is_not_called_nothing_short_of_full():
    full = dry(0.0)
    assert water_in_brief(called(Job.WATER, full), full, METRIC) == (
        "Taken together, the root zone is full; the refill line is 78 litres below that."
    )


def test_a_silent_bed_is_told_by_one_call_and_the_most_pressing_stands_first():
    assert [call.job for call in worth_showing([called(job, silent_for(30)) for job in RULES])] == [Job.LOOK]
    seen = replace(warm(17.6, 17.2), water=dry(1.1).water)
    assert [call.job for call in worth_showing([called(job, seen) for job in RULES])] == [Job.WATER, Job.SHADE]


# ---------------------------------------------------------------- phone


def test_a_message_names_the_bed_what_to_do_the_number_and_the_limit():
    title, text = message(worded(Job.WATER, dry(1.1)), dry(1.1))
    assert title == "Terrace bed: water 86 litres"
    assert text == "Seven minutes of hose. The root zone is 86 litres short of full; the refill line is at 78 litres."


def test_a_message_about_work_that_can_hurt_carries_its_caution():
    assert "Buried lines" in message(worded(Job.LOOK, silent_for(9)), silent_for(9))[1]


def test_no_sentence_shouts():
    seen = [warm(19.0), warm(17.6, 17.2), dry(1.1), silent_for(9), NOTHING]
    for call in [worded(job, one) for job in OF_THE_SOIL for one in seen]:
        assert "!" not in " ".join([call.flag, call.heading, call.sentence, *call.why, call.rule, call.would_change, call.source])


# ---------------------------------------------------------------- the cool line


@pytest.mark.parametrize(
    ("depths_m", "values_c", "words"),
    [
        ((0.05, 0.12), (18.7, 16.25), "cool below 7 cm"),
        ((0.05, 0.12, 0.34), (17.0, 16.0, 15.0), "cool all the way down"),
        ((0.09, 0.20), (17.6, 16.5), "cool from 4 cm down"),
        ((0.12,), (17.0,), "cool at 12 cm"),
        ((0.12,), (19.0,), "warm at 12 cm"),
        ((0.05, 0.12, 0.34), (21.0, 20.0, 19.0), "warm to 34 cm and below"),
        ((0.05, 0.15, 0.25, 0.35), (17.0, 19.0, 19.0, 17.0), "cool below 30 cm"),
        ((0.05, 0.15), (17.0, 19.0), "warm below 10 cm"),
        ((0.05, 0.15), (18.0, 18.0), "cool all the way down"),
    ],
)
def test_the_cool_line_in_words(depths_m, values_c, words):
    assert cool_line(replace(HEARD, temperature=Profile(depths_m, values_c)), METRIC) == words


def test_the_cool_line_in_inches_and_where_it_is_not_known():
    assert cool_line(replace(HEARD, temperature=Profile((0.05, 0.12), (18.7, 16.25))), US) == "cool below 3 in"
    assert cool_line(HEARD, METRIC) is None
    assert cool_line(replace(warm(17.0), bed=bed(limit_c=None)), METRIC) is None


# ---------------------------------------------------------------- times and numbers


def moment(*parts, fold=0):
    return int(dt.datetime(*parts, tzinfo=LISBON, fold=fold).timestamp() * 1000)


@pytest.mark.parametrize(
    ("at", "metric", "us"),
    [
        ((2026, 4, 14, 0, 5), "0:05", "12:05 am"),
        ((2026, 4, 14, 12, 0), "12:00", "12:00 pm"),
        ((2026, 4, 13, 19, 5), "yesterday 19:05", "yesterday 7:05 pm"),
        ((2026, 4, 8, 9, 0), "Wednesday 9:00", "Wednesday 9:00 am"),
        ((2026, 4, 7, 9, 0), "7 April 9:00", "April 7 9:00 am"),
    ],
)
def test_a_moment_is_told_by_the_nearest_name_of_its_day(at, metric, us):
    now_ms = moment(2026, 4, 14, 18, 52)
    assert METRIC.when(moment(*at), now_ms) == metric
    assert US.when(moment(*at), now_ms) == us


def test_a_day_is_the_gardens_own_day_and_not_that_of_utc():
    assert METRIC.when(moment(2026, 7, 1, 0, 30), moment(2026, 7, 1, 9, 0)) == "0:30"  # 23:30 UTC of the day before


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (METRIC.temperature(-0.04), "0 °C"),
        (METRIC.temperature(17.449), "17.4 °C"),
        (US.temperature(0.0), "32 °F"),
        (US.depth(0.1143), "4.5 in"),
        (METRIC.depth(0.005), "0 cm"),
        (METRIC.depths([0.12]), "12 cm"),
        (METRIC.water(1.2), "1 litre"),
        (METRIC.water(0.0), "0 litres"),
        (US.water(3.785411784), "1 gallon"),
        (METRIC.hose(0.2), "One minute of hose"),
        (METRIC.hose(13.4), "13 minutes of hose"),
    ],
)
def test_numbers_keep_the_decimals_that_a_probe_can(said, words):
    assert said == words


# ---------------------------------------------------------------- faults


@pytest.mark.parametrize(
    ("flags", "value", "words"),
    [
        (Flag.RESET_VALUE | Flag.JUMP, 85.0, "Says 85 °C, its power-on value: it loses power while it measures."),
        (Flag.DISCONNECTED | Flag.OUT_OF_RANGE, -127.0, "Says -127 °C, which stands for no answer: it is not connected."),
        (Flag.OUT_OF_RANGE, 72.0, "Says 72 °C, which soil does not reach."),
        (Flag.JUMP, 31.2, "Jumped to 31.2 °C from one reading to the next"),
        (Flag.STUCK, 12.3, "Has said 12.3 °C and nothing else for days."),
        (Flag.FUTURE, 12.3, "Dates its readings in the future"),
        (Flag.LONG_AGO, 12.3, "Dates its readings more than a year ago"),
        (Flag.DUG_UP | Flag.JUMP, 31.2, "Says 31.2 °C, out of the air: its stake was dug up. Push it back in."),
        (Flag.DRIFTS, 12.3, "Drifts away from what the other depths tell, so it is not believed."),
        (Flag.SCATTERS | Flag.JUMP, 12.3, "Jumps about as no soil does, so it is not believed."),
        (Flag.STANDS_STILL | Flag.STUCK, 12.3, "Has said 12.3 °C all day while the soil moved."),
    ],
)
def test_a_fault_is_told_by_its_cause_and_what_to_do(flags, value, words):
    sentence = fault_words(probe(T, 0.12), Reading("t", 0, value, value, 0, flags), METRIC)
    assert sentence.startswith(words)
    assert sentence.endswith((".", "?"))


def test_a_probe_with_nothing_odd_or_nothing_said_has_no_fault():
    assert fault_words(probe(T, 0.12), Reading("t", 0, 17.0, 17.0, 0), METRIC) is None
    assert fault_words(probe(T, 0.12), None, METRIC) is None


def test_every_flag_of_a_fault_has_words():
    for flag in ~Flag.AS_TOLD:
        for quantity in Quantity:
            assert fault_words(probe(quantity, None), Reading("x", 0, 0.9, 0.9, 0, flag), US)
