"""What the rules call, told once per crossing: tables of what a bed went through and what was called."""

from dataclasses import replace

import pytest

from collector.advice.rules import RULES, newest_mark, step
from collector.advice.state import WaterState
from collector.calls import DoneMark, Due, Evidence, Job, Memory
from collector.soil.profile import Estimate, Profile
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakeReadings, T, bed, probe, state

LIMIT_C = 18.0
TAW_MM, RAW_MM = 36.0, 10.8
NOTHING = state(bed(), FakeReadings())
HEARD = replace(NOTHING, heard_ms=NOW_MS, temperature_heard_ms=NOW_MS, moisture_heard_ms=NOW_MS)


def warm(mean_c, before_c=None, **more):
    """A bed with this mean at the cloves."""
    soil = Profile((0.12,), (mean_c,))
    mean = {"clove_mean_c": mean_c, "clove_mean_cover": 1.0, "clove_mean_before_c": before_c}
    return replace(HEARD, temperature=soil, **{"clove": Estimate(mean_c, measured=True), **mean, **more})


def dry(share_of_raw):
    """A bed that lacks this share of RAW."""
    return replace(HEARD, water=WaterState(share_of_raw * RAW_MM, TAW_MM, RAW_MM, 0.30, 0.30))


def walk(job, *looks, every_ms=HOUR_MS, marks=None):
    """Go through these states one look after another; `marks` is the standing done mark at each look. Answers the steps."""
    memory, steps = Memory("terrace", job), []
    for number, seen in enumerate(looks):
        now_ms = NOW_MS + number * every_ms
        heard = {
            name: now_ms for name in ("heard_ms", "temperature_heard_ms", "moisture_heard_ms") if getattr(seen, name) == NOW_MS
        }
        taken = step(memory, replace(seen, now_ms=now_ms, **heard), (marks or {}).get(number))
        memory = taken.after
        steps.append(taken)
    return steps


def table(steps):
    """Each step as (due, "told" or "cleared" or "")."""
    return [(one.call.due, "told" if one.newly_told else "cleared" if one.newly_cleared else "") for one in steps]


# ---------------------------------------------------------------- water


def test_dry_dry_watered_dry_is_a_call_nothing_cleared_a_call():
    assert table(walk(Job.WATER, dry(1.1), dry(1.2), dry(0.1), dry(1.0))) == [
        (Due.DUE, "told"),
        (Due.DUE, ""),
        (Due.FINE, "cleared"),
        (Due.DUE, "told"),
    ]


@pytest.mark.parametrize(
    ("share", "due"), [(0.0, Due.FINE), (0.79, Due.FINE), (0.8, Due.SOON), (0.99, Due.SOON), (1.0, Due.DUE), (3.0, Due.DUE)]
)
def test_water_is_due_at_raw_itself_and_soon_from_eight_tenths_of_it(share, due):
    assert walk(Job.WATER, dry(share))[0].call.due is due


def test_done_that_is_taken_back_leaves_it_due_since_it_was_told():
    since = [one.call.since_ms for one in walk(Job.WATER, *[dry(1.1)] * 4, marks={2: NOW_MS + 2 * HOUR_MS})]
    assert since == [NOW_MS, NOW_MS, NOW_MS + 2 * HOUR_MS, NOW_MS]


def test_water_that_flaps_about_the_refill_line_is_told_once():
    told = table(walk(Job.WATER, dry(1.01), dry(0.98), dry(1.01), dry(0.71), dry(1.02), dry(0.69)))
    assert told == [(Due.DUE, "told"), *[(Due.DUE, "")] * 4, (Due.FINE, "cleared")]


def test_a_gap_is_not_a_recovery():
    told = table(walk(Job.WATER, dry(1.1), HEARD, HEARD, dry(1.1)))
    assert told == [(Due.DUE, "told"), (Due.NOT_KNOWN, ""), (Due.NOT_KNOWN, ""), (Due.DUE, "")]


def test_a_bed_that_recovers_in_a_gap_is_cleared_after_it():
    assert table(walk(Job.WATER, dry(1.1), HEARD, dry(0.1)))[-1] == (Due.FINE, "cleared")


def test_litres_and_minutes_refill_what_the_root_zone_lacks():
    numbers = walk(Job.WATER, dry(1.0))[0].call.numbers
    assert numbers["litres"] == pytest.approx(RAW_MM * 7.2)
    assert numbers["minutes"] == pytest.approx(RAW_MM * 7.2 / 12)


def test_a_wasteful_hose_brings_more_litres_for_the_same_depletion():
    wasteful = replace(dry(1.0), bed=replace(bed(), watering_efficiency=0.5))
    assert walk(Job.WATER, wasteful)[0].call.numbers["litres"] == pytest.approx(2 * RAW_MM * 7.2)


# ---------------------------------------------------------------- shade


@pytest.mark.parametrize(
    ("mean_c", "before_c", "due"),
    [
        (18.01, 17.0, Due.DUE),
        (18.0, 17.5, Due.SOON),  # at the limit is not over it
        (17.01, 16.91, Due.SOON),
        (17.0, 16.0, Due.FINE),  # a whole kelvin under
        (17.5, 17.45, Due.FINE),  # rises less than the thermometer can tell
        (17.9, 18.5, Due.FINE),  # falls
        (17.9, None, Due.FINE),  # nobody knows where it goes
    ],
)
def test_shade_is_due_over_the_limit_and_soon_a_kelvin_under_while_it_rises(mean_c, before_c, due):
    assert walk(Job.SHADE, warm(mean_c, before_c))[0].call.due is due


def test_a_mean_that_flaps_about_the_limit_is_told_once_and_is_fine_half_a_kelvin_under():
    told = table(walk(Job.SHADE, *(warm(mean_c, mean_c) for mean_c in (17.9, 18.1, 17.9, 18.1, 17.6, 17.51, 17.5, 18.1))))
    assert told == [(Due.FINE, ""), (Due.DUE, "told"), *[(Due.DUE, "")] * 4, (Due.FINE, "cleared"), (Due.DUE, "told")]


def test_a_bed_with_no_limit_or_no_planting_asks_for_no_shade_and_says_why():
    no_limit, no_planting = (replace(warm(30.0), bed=one) for one in (bed(limit_c=None), bed(clove_m=None)))
    calls = [walk(Job.SHADE, one)[0].call for one in (no_limit, no_planting)]
    assert [(call.due, call.reason) for call in calls] == [(Due.FINE, "no limit"), (Due.FINE, "no planting")]


UNKNOWN = {"clove_mean_c": None, "clove_mean_cover": 0.0, "clove": None}


@pytest.mark.parametrize(
    ("seen", "reason"),
    [
        (NOTHING, "never heard"),
        (replace(NOTHING, temperature_heard_ms=NOW_MS - DAY_MS), "silent"),
        (warm(17.0, **UNKNOWN, bed=bed(thermometers_m=(0.02,))), "no probe near"),
        (warm(17.0, **UNKNOWN), "near ones silent"),
        (warm(17.0, clove_mean_c=None, clove_mean_cover=0.4), "too short"),
        (replace(NOTHING, bed=bed(thermometers_m=())), "no probe"),
    ],
)
def test_what_is_not_known_says_why_and_is_not_told(seen, reason):
    (taken,) = walk(Job.SHADE, seen)
    assert (taken.call.due, taken.call.reason, taken.newly_told) == (Due.NOT_KNOWN, reason, False)


def test_a_silence_is_dated_from_the_last_word():
    silent = replace(NOTHING, temperature_heard_ms=NOW_MS - DAY_MS)
    assert walk(Job.SHADE, silent)[0].call.since_ms == NOW_MS - DAY_MS


def test_the_limit_is_called_weakly_founded_and_the_refill_line_published():
    assert walk(Job.SHADE, warm(19.0))[0].call.evidence is Evidence.WEAK
    assert "No peer-reviewed soil temperature at bulb depth" in walk(Job.SHADE, warm(19.0))[0].call.source
    assert walk(Job.WATER, dry(1.0))[0].call.evidence is Evidence.PUBLISHED


# ---------------------------------------------------------------- done


def test_watered_shows_as_done_until_the_probes_find_the_bed_wet_then_it_is_fine():
    steps = walk(Job.WATER, dry(1.1), dry(1.1), dry(0.9), dry(0.2), every_ms=HOUR_MS, marks=dict.fromkeys((1, 2, 3), NOW_MS + 1))
    assert table(steps) == [(Due.DUE, "told"), (Due.DONE, "cleared"), (Due.DONE, ""), (Due.FINE, "")]
    assert steps[1].call.since_ms == NOW_MS + 1


def test_done_stays_to_be_taken_back_for_ten_minutes_even_if_the_bed_recovers_at_once():
    marks = dict.fromkeys((1, 2), NOW_MS + MINUTE_MS)
    assert [due for due, _ in table(walk(Job.WATER, dry(1.1), dry(0.1), dry(0.1), every_ms=9 * MINUTE_MS, marks=marks))] == [
        Due.DUE,
        Due.DONE,
        Due.FINE,
    ]


def test_a_job_done_and_taken_back_is_due_again_but_not_told_again():
    steps = walk(Job.WATER, dry(1.1), dry(1.1), dry(1.1), every_ms=MINUTE_MS, marks={1: NOW_MS + 1, 2: None})
    assert table(steps) == [(Due.DUE, "told"), (Due.DONE, "cleared"), (Due.DUE, "")]


@pytest.mark.parametrize(("job", "seen", "days"), [(Job.WATER, dry(1.1), 1), (Job.SHADE, warm(18.5), 3)])
def test_a_job_said_done_that_changes_nothing_is_called_again_when_that_has_run_out(job, seen, days):
    steps = walk(job, *[seen] * (days + 2), every_ms=DAY_MS, marks=dict.fromkeys(range(1, days + 2), NOW_MS + DAY_MS))
    assert [due for due, _ in table(steps)] == [Due.DUE, *[Due.DONE] * days, Due.DUE]
    assert steps[-1].newly_told


def test_a_mark_that_has_been_answered_does_not_hide_the_next_dry_spell():
    marks = dict.fromkeys(range(1, 5), NOW_MS + 1)
    steps = walk(Job.WATER, dry(1.1), dry(1.1), dry(0.1), dry(1.1), dry(1.1), every_ms=2 * HOUR_MS, marks=marks)
    assert table(steps) == [(Due.DUE, "told"), (Due.DONE, "cleared"), (Due.FINE, ""), (Due.DUE, "told"), (Due.DUE, "")]


def test_an_older_mark_does_not_come_back_when_the_newest_is_taken_back():
    first, second = NOW_MS + 1, NOW_MS + 6 * HOUR_MS + 1
    marks = {1: first, 2: first, 3: first, 4: second, 5: first}
    looks = [dry(1.1), dry(1.1), dry(0.1), dry(1.1), dry(1.1), dry(1.1)]
    assert [due for due, _ in table(walk(Job.WATER, *looks, every_ms=2 * HOUR_MS, marks=marks))] == [
        Due.DUE,
        Due.DONE,
        Due.FINE,
        Due.DUE,
        Due.DONE,
        Due.DUE,
    ]


def test_cloth_laid_while_it_was_only_soon_is_not_asked_for_again_while_the_mean_still_rises():
    marks = dict.fromkeys((1, 2), NOW_MS + 1)
    steps = walk(Job.SHADE, warm(17.4, 17.0), warm(17.6, 17.2), warm(18.2, 17.6), every_ms=12 * HOUR_MS, marks=marks)
    assert table(steps) == [(Due.SOON, ""), (Due.DONE, ""), (Due.DONE, "")]


def test_the_newest_standing_mark_of_that_bed_and_job_counts():
    marks = [
        DoneMark("terrace", Job.WATER, 1),
        DoneMark("terrace", Job.WATER, 2),
        DoneMark("terrace", Job.WATER, 3, undone_ms=4),
        DoneMark("terrace", Job.SHADE, 5),
        DoneMark("gate", Job.WATER, 6),
    ]
    assert newest_mark(marks, "terrace", Job.WATER) == 2
    assert newest_mark(marks, "gate", Job.LOOK) is None


# ---------------------------------------------------------------- silence


def silent_for(hours):
    since_ms = NOW_MS - round(hours * HOUR_MS)
    return replace(NOTHING, heard_ms=since_ms, temperature_heard_ms=since_ms, moisture_heard_ms=since_ms)


def test_a_bed_that_falls_silent_is_told_once_and_cleared_by_its_first_word():
    told = table(walk(Job.LOOK, warm(17.0), silent_for(7), silent_for(8), warm(17.0)))
    assert told == [(Due.FINE, ""), (Due.NOT_KNOWN, "told"), (Due.NOT_KNOWN, ""), (Due.FINE, "cleared")]


@pytest.mark.parametrize(("hours", "due"), [(6, Due.FINE), (6.01, Due.NOT_KNOWN)])
def test_a_bed_is_silent_after_six_hours(hours, due):
    assert walk(Job.LOOK, silent_for(hours))[0].call.due is due


def test_a_bed_that_never_spoke_is_shown_but_not_told():
    (taken,) = walk(Job.LOOK, NOTHING)
    assert (taken.call.due, taken.call.reason, taken.newly_told) == (Due.NOT_KNOWN, "never heard", False)


@pytest.mark.parametrize(
    ("seen", "reason"),
    [
        (replace(warm(17.0), temperature_heard_ms=NOW_MS - 7 * HOUR_MS), "thermometers silent"),
        (replace(warm(17.0), moisture_heard_ms=NOW_MS - 13 * HOUR_MS), "moisture probes silent"),
        (warm(17.0, clove=None, clove_mean_c=None, clove_mean_cover=0.5), "near ones silent"),
    ],
)
def test_a_bed_is_told_when_only_some_of_its_probes_fall_silent(seen, reason):
    (taken,) = walk(Job.LOOK, seen)
    assert (taken.call.reason, taken.newly_told) == (reason, True)


def test_thermometers_near_the_cloves_stay_missed_when_no_hour_of_the_day_knows_them_any_more():
    told = table(walk(Job.LOOK, warm(17.0, **{**UNKNOWN, "clove_mean_cover": 0.1}), warm(17.0, **UNKNOWN), warm(17.0)))
    assert told == [(Due.NOT_KNOWN, "told"), (Due.NOT_KNOWN, ""), (Due.FINE, "cleared")]


def test_thermometers_near_the_cloves_that_were_never_heard_are_no_silence():
    assert walk(Job.LOOK, warm(17.0, **UNKNOWN))[0].call.due is Due.FINE


def test_a_bed_with_no_probe_is_not_silent():
    assert walk(Job.LOOK, replace(NOTHING, bed=replace(bed(), probes=())))[0].call.due is Due.FINE


# ---------------------------------------------------------------- what memory keeps


def test_every_job_has_a_rule():
    assert set(RULES) == set(Job)


def test_a_look_that_finds_nothing_new_changes_no_memory():
    for job, seen in ((Job.WATER, dry(1.1)), (Job.SHADE, warm(17.0)), (Job.LOOK, silent_for(9))):
        first = step(Memory("terrace", job), seen, None)
        assert step(first.after, replace(seen, now_ms=NOW_MS + HOUR_MS), None).after == first.after


def test_since_is_when_the_call_became_what_it_is():
    steps = walk(Job.WATER, dry(0.9), dry(1.1), dry(1.2), every_ms=HOUR_MS)
    assert [one.call.since_ms - NOW_MS for one in steps] == [0, HOUR_MS, HOUR_MS]


def test_a_wire_of_any_probe_counts_as_a_word_of_the_bed():
    readings = FakeReadings()
    lone = bed(thermometers_m=(0.12,), moistures_m=())
    readings.say(probe(T, 0.12), 17.0, NOW_MS)
    assert step(Memory("terrace", Job.LOOK), state(lone, readings), None).call.reason == "heard"
