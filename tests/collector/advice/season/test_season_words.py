"""How far a planting is, in sentences."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

from collector.advice.season.season_words import headline, lines
from collector.advice.voice import Voice
from collector.crop.chilling import DAY_S, ChillStand
from collector.crop.observed import Mover, Stage
from collector.crop.stage import Reason, StageNow
from collector.units import UnitSystem
from tests.collector.advice.season.seasons import TODAY, planting_state, season_state

ZONE = ZoneInfo("Europe/Lisbon")
METRIC, US = Voice(UnitSystem.METRIC, ZONE), Voice(UnitSystem.US, ZONE)


def said(one, voice=METRIC):
    season = season_state(one)
    return headline(one, season, voice), lines(one, season, voice)


def test_what_was_seen_is_told_as_seen_and_what_is_suggested_as_likely():
    seen = StageNow(Stage.LEAVES, (Reason(Stage.LEAVES, Mover.LEAF_COUNT, True, 6.0, day=dt.date(2026, 3, 7)),), ())
    assert said(replace(planting_state(), stage=seen))[0] == "Porcelain: leaves, by your count of 6 leaves on Saturday."
    sums = (Reason(Stage.BULBING, Mover.HEAT_SUM, True, 1210.0), Reason(Stage.BULBING, Mover.DAYLENGTH, True, 13.6))
    suggested = replace(planting_state(), stage=StageNow(Stage.BULBING, sums, ()))
    assert said(suggested)[0] == "Porcelain: likely bulbing, by 1210 degree days and days of 13.6 hours."
    assert said(suggested, US)[0] == "Porcelain: likely bulbing, by 2178 °F degree days and days of 13.6 hours."


def test_before_planting_and_long_after_it_is_said_so():
    waiting = planting_state(None, planted=TODAY + dt.timedelta(days=2))
    assert said(waiting)[0] == "Porcelain: planted Thursday, by the plan."
    old = planting_state(None, in_ground=True)
    assert said(old)[0] == "Porcelain: not known how far; only a look would tell."


def test_chill_heat_light_and_what_is_expected_stand_with_their_limits_and_gaps():
    one = planting_state(chill=ChillStand(40 * DAY_S, 56 * DAY_S, 3 * DAY_S))
    told = said(one)[1]
    assert told[0] == "In the ground since 20 October, 141 days."
    assert told[1] == "In the cold for 40 days, in store and soil; a hardneck wants 56; of 3 days it is not known."
    assert told[2] == "Heat since planting: 900 degree days over 4 °C."
    assert told[3] == "The day is 11.7 hours long (geometric); bulbing wants 13.5."
    assert told[4] == "Bulbing is expected about 1 May."


def test_what_is_not_known_and_what_never_comes_are_said():
    told = said(planting_state(heat=None, long_day=None, bulbing_expected=None))[1]
    assert any(line.startswith("Heat since planting is not known") for line in told)
    assert any(line.startswith("Days never get 13.5 hours long here") for line in told)


def test_a_look_that_holds_the_sums_back_is_told_with_the_day_to_look_again():
    hold = Reason(Stage.LEAVES, Mover.STEM, False, day=TODAY - dt.timedelta(days=10))
    held = StageNow(Stage.LEAVES, (hold,), (), hold, TODAY + dt.timedelta(days=4))
    assert any(
        "your look of 28 February shows less; look again Saturday." in line
        for line in said(replace(planting_state(), stage=held))[1]
    )
