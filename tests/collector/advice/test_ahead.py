"""Calls that speak before it is too late: what the outlook makes of shade and water."""

from dataclasses import replace

import pytest

from collector.advice.state import WaterState
from collector.advice.wording import word
from collector.calls import Due, Job
from collector.outlook import Outlook
from tests.collector.advice.test_rules import HEARD, RAW_MM, TAW_MM, dry, table, walk, warm
from tests.collector.advice.test_wording import METRIC, US
from tests.fakes import NOW_MS
from tests.fakes_advice import HOUR_MS, bed, outlook

CLOTH = bed()
CLOTH = replace(CLOTH, shade_cloth=0.5)


def to_pass_in(hours, **more):
    """A bed at 17 °C whose mean passes 18 °C after so many hours and goes on to 18.6 °C."""
    ahead = outlook(lambda hour: min(17.0 + (hour - 0.5) / hours, 18.6), **more)
    return warm(17.0, 17.0, outlook=ahead, bed=CLOTH)


def to_dry_in(hours, now_share=0.5, **more):
    """A bed that lacks this share of RAW and reaches it after so many hours."""
    lack_mm = now_share * RAW_MM
    return replace(dry(now_share), outlook=outlook(None, lambda hour: lack_mm + (RAW_MM - lack_mm) * hour / hours, **more))


def said(job, seen, voice=METRIC):
    return word(walk(job, seen)[0].call, seen, voice)


# ---------------------------------------------------------------- shade


@pytest.mark.parametrize(("hours", "due"), [(20, Due.DUE), (23, Due.DUE), (30, Due.SOON), (71, Due.SOON), (80, Due.FINE)])
def test_shade_is_called_three_days_before_the_mean_would_pass_the_limit_and_due_one_day_before(hours, due):
    (taken,) = walk(Job.SHADE, to_pass_in(hours))
    assert taken.call.due is due
    assert taken.newly_told is (due is not Due.FINE)


def test_a_shade_call_ahead_says_when_and_what_the_cloth_would_do():
    call = said(Job.SHADE, to_pass_in(60, cloth_k=-1.7))
    assert call.heading == "Have the 50 % cloth ready"
    assert call.flag.startswith("Soon: ")
    assert call.sentence.startswith("Lay it by ")
    assert ": the day's mean at the cloves would pass your limit, 18 °C, " in call.sentence
    assert call.sentence.endswith(". With the 50 % cloth they would average 16.9 °C at most, instead of 18.6 °C.")
    assert "Foreseen from the last days and the course of the sun, without a weather forecast." in call.why
    assert "With the cloth: 16.9 °C. It takes 50 % of the leaves' light too." in call.why


def test_a_due_shade_call_ahead_asks_for_the_cloth_itself():
    call = said(Job.SHADE, to_pass_in(12, weather="somebody"))
    assert (call.heading, call.flag) == ("Lay the 50 % cloth", "Due today")
    assert "Foreseen with a weather forecast: somebody." in call.why
    assert "With" not in call.sentence


def test_over_the_limit_the_cloth_is_told_by_where_the_mean_would_be_in_four_days():
    seen = warm(18.4, 18.0, outlook=outlook(lambda hour: 18.4 + hour / 96, cloth_k=-2.0), bed=CLOTH)
    call = said(Job.SHADE, seen)
    assert call.sentence.startswith(
        "The cloves averaged 18.4 °C over the last 24 hours; your limit is 18 °C. With the 50 % cloth"
    )
    assert call.sentence.endswith("instead of 19.4 °C.")
    assert "it would be 17.4 °C by " in call.sentence
    assert "64.4 °F" in said(Job.SHADE, seen, US).sentence


def test_what_was_told_to_be_soon_is_told_again_when_it_is_due_and_not_for_a_forecast_that_wavers():
    calm = warm(16.8, 16.8, outlook=outlook(16.9), bed=CLOTH)
    near = warm(17.0, 17.0, outlook=outlook(17.2), bed=CLOTH)
    looks = [to_pass_in(50), near, to_pass_in(60), to_pass_in(20), near, calm]
    steps = walk(Job.SHADE, *looks, every_ms=0)
    assert table(steps)[:3] == [(Due.SOON, "told"), (Due.SOON, ""), (Due.SOON, "")]
    assert table(steps)[3] == (Due.DUE, "")  # within twelve hours of the first word
    assert table(steps)[-1] == (Due.FINE, "cleared")
    day_later = replace(to_pass_in(20), now_ms=NOW_MS)
    later = walk(Job.SHADE, to_pass_in(50), day_later, every_ms=13 * HOUR_MS)
    assert table(later) == [(Due.SOON, "told"), (Due.DUE, "told")]


def test_what_came_due_soon_after_it_was_told_to_be_soon_is_told_once_twelve_hours_have_passed():
    steps = walk(Job.SHADE, to_pass_in(26), *[to_pass_in(20)] * 6, every_ms=3 * HOUR_MS)
    assert table(steps) == [(Due.SOON, "told"), *[(Due.DUE, "")] * 3, (Due.DUE, "told"), *[(Due.DUE, "")] * 2]


def test_a_forecast_that_takes_back_what_it_said_and_says_it_again_within_hours_is_told_once():
    calm = warm(16.5, 16.5, outlook=outlook(16.6), bed=CLOTH)
    steps = walk(Job.SHADE, to_pass_in(60), calm, to_pass_in(60), calm, to_pass_in(60), every_ms=2 * HOUR_MS)
    assert table(steps) == [(Due.SOON, "told"), (Due.FINE, "cleared"), (Due.SOON, ""), (Due.FINE, ""), (Due.SOON, "")]
    stays = walk(Job.SHADE, to_pass_in(60), calm, *[to_pass_in(60)] * 8, every_ms=2 * HOUR_MS)
    assert [told for _, told in table(stays)] == ["told", "cleared", *[""] * 5, "told", "", ""]  # half a day later it counts
    measured = walk(Job.SHADE, to_pass_in(60), calm, warm(18.4, 17.0, bed=CLOTH), every_ms=2 * HOUR_MS)
    assert table(measured)[-1] == (Due.DUE, "told")  # what is measured does not waver


def test_what_is_due_does_not_fall_back_to_soon_within_the_hour():
    steps = walk(Job.SHADE, to_pass_in(60), to_pass_in(23), to_pass_in(26), to_pass_in(23), every_ms=HOUR_MS)
    assert [due for due, _ in table(steps)] == [Due.SOON, Due.DUE, Due.DUE, Due.DUE]


def test_a_bed_that_was_due_by_forecast_alone_is_not_said_to_be_warm_still():
    looks = [to_pass_in(20), warm(17.8, 17.5, outlook=outlook(lambda hour: 17.9 + hour / 400), bed=CLOTH)]
    assert [one.call.reason for one in walk(Job.SHADE, *looks)] == ["would pass the limit", "would pass the limit"]


def test_a_rise_is_no_call_where_the_outlook_says_that_it_ends():
    assert walk(Job.SHADE, warm(17.6, 17.0))[0].call.due is Due.SOON
    assert walk(Job.SHADE, warm(17.6, 17.0, outlook=outlook(17.5)))[0].call.due is Due.FINE


def test_an_outlook_that_cannot_tell_of_the_cloves_changes_nothing():
    for nothing in (Outlook("terrace", NOW_MS, None, None), outlook(float("nan"))):
        assert walk(Job.SHADE, warm(17.6, 17.0, outlook=nothing))[0].call.reason == "rising towards the limit"


# ---------------------------------------------------------------- water


@pytest.mark.parametrize(("hours", "due"), [(49, Due.SOON), (59, Due.SOON), (62, Due.FINE)])
def test_water_is_called_more_than_two_days_before_the_refill_line(hours, due):
    (taken,) = walk(Job.WATER, to_dry_in(hours))
    assert (taken.call.due, taken.newly_told) == (due, due is Due.SOON)


def test_what_was_foreseen_and_is_believed_no_more_stands_until_somebody_waters():
    astray = replace(to_dry_in(50, now_share=0.3), outlook=to_dry_in(50, now_share=0.9).outlook)
    steps = walk(Job.WATER, to_dry_in(50), astray, dry(0.05), every_ms=HOUR_MS)
    assert table(steps) == [(Due.SOON, "told"), (Due.SOON, ""), (Due.FINE, "cleared")]
    assert walk(Job.WATER, astray)[0].call.due is Due.FINE  # of itself it is worth no word


def test_a_water_call_ahead_says_what_will_be_lacking_by_then():
    call = said(Job.WATER, to_dry_in(50))
    assert call.heading == "Water 78 litres"
    assert call.flag.startswith("Soon: ")
    assert call.sentence.startswith("Six minutes of hose, or the roots run short ")
    assert call.sentence.endswith(". Given now, 39 litres would fill them.")
    assert any(line.startswith("It would reach that line ") and "likely between" in line for line in call.why)
    assert "Of that, 39 litres are gone by the moisture probes, give or take 7 litres (four times in five)." in call.why
    assert walk(Job.WATER, to_dry_in(50))[0].call.numbers["litres_now"] == pytest.approx(0.5 * RAW_MM * 7.2)


def test_why_the_crop_may_use_more_on_a_mild_day_is_told():
    mild = replace(dry(0.9), water=WaterState(10.0, TAW_MM, 0.42 * TAW_MM, 0.42, 0.30))
    assert any(
        "30 % on a day on which it uses 36 litres; these days it uses 14 litres" in line for line in said(Job.WATER, mild).why
    )


def test_a_bed_with_nothing_planted_asks_for_no_water():
    call = walk(Job.WATER, replace(dry(1.5), bed=bed(clove_m=None)))[0].call
    assert (call.due, call.reason) == (Due.FINE, "no planting")


def test_an_outlook_made_before_a_watering_is_not_believed_after_it():
    seen = replace(to_dry_in(20, now_share=0.9), water=dry(0.1).water)
    assert walk(Job.WATER, seen)[0].call.due is Due.FINE


def test_a_bed_that_dries_slowly_is_fine_however_near_the_line_it_is():
    assert walk(Job.WATER, dry(0.9))[0].call.due is Due.SOON
    assert walk(Job.WATER, to_dry_in(100, now_share=0.9))[0].call.due is Due.FINE


def test_water_told_ahead_is_told_again_at_the_line_and_cleared_by_water():
    steps = walk(Job.WATER, to_dry_in(50), dry(1.0), dry(1.1), dry(0.1), every_ms=24 * HOUR_MS)
    assert table(steps) == [(Due.SOON, "told"), (Due.DUE, "told"), (Due.DUE, ""), (Due.FINE, "cleared")]


def test_no_reading_is_not_known_whatever_was_expected():
    assert walk(Job.WATER, replace(HEARD, outlook=to_dry_in(10).outlook))[0].call.due is Due.NOT_KNOWN
