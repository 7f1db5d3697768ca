"""The story as it is played: the season that is sent first, and the days after."""

from __future__ import annotations

import datetime as dt
import json
import math
import threading
from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest

from collector.decode import senml
from collector.simulate.play import LayCloth, Play, Water
from collector.simulate.scenario import Scenario, demo_scenario
from collector.soil import water
from collector.soil.profile import profile_of
from collector.units import Quantity

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
STEP_MS = 600_000


def at(year: int, month: int, day: int) -> int:
    """Milliseconds of the midnight, UTC, that begins a day."""
    return int(dt.datetime(year, month, day, tzinfo=dt.UTC).timestamp() * 1000)


class HurriedClock:
    """Each look at it is one second later by its own time; a wait of any length takes it 200 s on."""

    def __init__(self, now_ms: int) -> None:
        self.now = now_ms

    def now_ms(self) -> int:
        self.now += 1000
        return self.now

    def elapsed_s(self) -> float:
        return self.now / 1000

    def sleep(self, seconds: float) -> None:
        assert seconds > 0
        self.now += 200_000


class Heard:
    """Readings of every probe, by its id, out of packs; checks nothing but that they decode."""

    def __init__(self, scenario: Scenario) -> None:
        self._ids = {probe.address: probe.id for bed in scenario.beds for probe in bed.probes}
        self.topics: list[str] = []
        self.series: dict[str, list[tuple[int, float]]] = defaultdict(list)

    def __call__(self, topic: str, payload: bytes) -> None:
        self.topics.append(topic)
        for one in senml.decode(payload):
            assert one.measured_ms is not None
            self.series[self._ids[one.address]].append((one.measured_ms, one.value))

    def values(self, probe_id: str, from_ms: int, to_ms: int) -> np.ndarray:
        return np.array([value for time_ms, value in self.series[probe_id] if from_ms <= time_ms < to_ms])

    def mean(self, probe_id: str, to_ms: int) -> float:
        """Mean over the day before."""
        return float(self.values(probe_id, to_ms - DAY_MS, to_ms).mean())


def short_story(days: int = 4) -> Scenario:
    """The same garden, whose readings begin a few days before now."""
    story = demo_scenario()
    first = dt.datetime.fromtimestamp(story.now_ms / 1000, dt.UTC).date() - dt.timedelta(days=days)
    return replace(story, weather_first=first - dt.timedelta(days=1), first=first)


def stop_when(clock: HurriedClock, end_ms: int) -> threading.Event:
    """An event that is set once the clock has passed that moment."""

    class Passed(threading.Event):
        def is_set(self) -> bool:
            return clock.now >= end_ms

    return Passed()


# ---------------------------------------------------------------- the whole season, once


@pytest.fixture(scope="module")
def season() -> tuple[Scenario, Heard, list[tuple[str, bytes]]]:
    """The season and the first three days after it, as the demo shows them."""
    story = demo_scenario()
    play, heard = Play(story), Heard(story)
    packs = list(play.backfill())
    for topic, payload in packs:
        heard(topic, payload)
    clock = HurriedClock(story.now_ms)
    play.live(clock, heard, stop_when(clock, story.now_ms + 3 * DAY_MS))
    return story, heard, packs


Season = tuple[Scenario, Heard, list[tuple[str, bytes]]]


def test_the_season_comes_in_the_order_of_time_and_ends_now(season: Season) -> None:
    story, _, packs = season
    sent_h, last_s = [], 0
    for _, payload in packs:
        records = json.loads(payload)
        last_s = records[0]["bt"] + records[-1].get("t", 0)
        sent_h.append(-(-last_s // 3600))  # a stake sends at the full hour, even if it fell silent before
    assert sent_h == sorted(sent_h)
    assert last_s * 1000 == story.now_ms
    assert 15_000 < len(packs) < 26_000


def test_every_probe_speaks_every_ten_minutes_save_for_the_faults_of_the_story(season: Season) -> None:
    story, heard, _ = season
    first_ms = at(story.first.year, story.first.month, story.first.day)
    expected = (story.now_ms - first_ms) // STEP_MS
    for bed in story.beds:
        for probe in bed.probes:
            times = [time_ms for time_ms, _ in heard.series[probe.id] if time_ms <= story.now_ms]
            assert times == sorted(set(times)), probe.id
            silent = 144 if bed.id == "wall" else 0
            assert len(times) == expected - silent, probe.id


def test_the_soil_has_the_temperatures_of_its_season(season: Season) -> None:
    story, heard, _ = season
    january = (at(2026, 1, 1), at(2026, 2, 1))
    assert 8.0 < heard.values("kiln-t10", *january).mean() < 13.0
    assert 15.0 < heard.mean("kiln-t10", story.now_ms) < 18.0
    # in autumn the deep soil is the warmer, in spring the cooler
    assert heard.values("kiln-t40", *january).mean() > heard.values("kiln-t5", *january).mean()
    assert heard.mean("kiln-t40", story.now_ms) < heard.mean("kiln-t5", story.now_ms)


def test_the_daily_swing_shrinks_with_depth(season: Season) -> None:
    story, heard, _ = season
    swings = [np.ptp(heard.values(f"kiln-t{cm}", story.now_ms - DAY_MS, story.now_ms)) for cm in (5, 10, 20, 40)]
    assert swings == sorted(swings, reverse=True)


def test_moisture_stays_between_dry_and_full(season: Season) -> None:
    story, heard, _ = season
    for bed in story.beds:
        for probe in bed.probes_of(Quantity.SOIL_MOISTURE):
            dug_up = (story.now_ms - 40 * DAY_MS, story.now_ms - 40 * DAY_MS + 3 * HOUR_MS)
            said = np.array([value for time_ms, value in heard.series[probe.id] if not dug_up[0] <= time_ms < dug_up[1]])
            assert bed.wilting_point - 0.02 < said.min() < said.max() < 0.52


def test_the_clove_of_the_first_bed_crosses_its_cool_limit_on_the_second_day_after_now(season: Season) -> None:
    story, heard, _ = season
    limit_c = story.beds[0].cool_limit_c
    assert limit_c is not None
    assert heard.mean("kiln-t10", story.now_ms) < limit_c - 0.1
    assert heard.mean("kiln-t10", story.now_ms + DAY_MS) < limit_c  # so that a call can come ahead of it
    assert heard.mean("kiln-t10", story.now_ms + 2 * DAY_MS) > limit_c
    # and a week ago it was well below it, so the call is no old news
    assert heard.mean("kiln-t10", story.now_ms - 4 * DAY_MS) < limit_c - 1.0


def test_the_first_bed_reaches_its_refill_point_within_eight_hours_after_now_by_its_probes(season: Season) -> None:
    story, heard, _ = season
    bed = story.beds[0]
    taw_mm = water.total_available_mm(bed.field_capacity, bed.wilting_point, bed.root_depth_m)
    raw_mm = water.readily_available_mm(taw_mm, water.GARLIC_P_TABLE)

    def depletion_mm(at_ms: int) -> float:
        points = [(cm / 100, float(heard.values(f"kiln-m{cm}", at_ms - HOUR_MS, at_ms).mean())) for cm in (10, 25)]
        moisture = profile_of(points)
        assert moisture is not None
        return water.root_zone_depletion_mm(moisture, bed.field_capacity, bed.wilting_point, bed.root_depth_m)

    assert 0.5 * raw_mm < depletion_mm(story.now_ms) < 0.97 * raw_mm
    assert depletion_mm(story.now_ms + 8 * HOUR_MS) > raw_mm


def test_the_stake_of_the_last_bed_falls_silent_after_now_and_the_others_do_not(season: Season) -> None:
    story, heard, _ = season
    last = {probe_id: series[-1][0] for probe_id, series in heard.series.items()}
    assert story.now_ms < last["gate-t9"] < story.now_ms + 10 * HOUR_MS
    assert last["kiln-t10"] > story.now_ms + 2.9 * DAY_MS


def test_a_stake_that_was_dug_up_says_no_moisture_for_three_hours(season: Season) -> None:
    story, heard, _ = season
    began_ms = story.now_ms - 40 * DAY_MS
    assert heard.values("kiln-m10", began_ms, began_ms + 3 * HOUR_MS).max() < 0.02
    assert heard.values("kiln-m10", began_ms - DAY_MS, began_ms).min() > 0.1
    assert heard.values("kiln-m10", began_ms + 3 * HOUR_MS, began_ms + DAY_MS).min() > 0.1


def test_a_probe_that_is_read_too_early_says_85_and_one_that_is_stuck_repeats_itself(season: Season) -> None:
    story, heard, _ = season
    assert 3 < sum(value == 85.0 for _, value in heard.series["kiln-t20"]) < 40
    stuck = heard.values("gate-m15", story.now_ms - 109 * DAY_MS, story.now_ms - 100 * DAY_MS)
    assert len(set(stuck.tolist())) == 1


# ---------------------------------------------------------------- live


def test_live_goes_on_where_the_season_ends_with_a_pack_from_each_stake_every_ten_minutes() -> None:
    story = short_story()
    play, heard = Play(story), Heard(story)
    for _ in play.backfill():
        pass
    clock = HurriedClock(story.now_ms)
    play.live(clock, heard, stop_when(clock, story.now_ms + 2 * HOUR_MS))
    times = [time_ms for time_ms, _ in heard.series["kiln-t10"]]
    assert times == [story.now_ms + STEP_MS * (i + 1) for i in range(len(times))]
    assert 10 <= len(times) <= 12
    assert len(heard.topics) == len(times) * len(story.stakes)


def test_live_never_speaks_before_its_time() -> None:
    story = short_story(days=1)
    play = Play(story)
    for _ in play.backfill():
        pass
    clock = HurriedClock(story.now_ms)
    early: list[int] = []

    def publish(topic: str, payload: bytes) -> None:
        early.extend(one.measured_ms for one in senml.decode(payload) if (one.measured_ms or 0) > clock.now)

    play.live(clock, publish, stop_when(clock, story.now_ms + 3 * HOUR_MS))
    assert early == []


def test_live_stops_at_once_when_asked() -> None:
    story = short_story(days=1)
    play, stop = Play(story), threading.Event()
    stop.set()
    heard = Heard(story)
    play.live(HurriedClock(story.now_ms + DAY_MS), heard, stop)
    assert heard.topics == []


def test_live_ends_with_the_season() -> None:
    story = short_story(days=1)
    now = dt.datetime.fromtimestamp(story.now_ms / 1000, dt.UTC).date()
    story = replace(story, end=now + dt.timedelta(days=1))
    play, heard = Play(story), Heard(story)
    for _ in play.backfill():
        pass
    play.live(HurriedClock(story.now_ms + 30 * DAY_MS), heard, threading.Event())
    assert heard.series["kiln-t10"][-1][0] == at(story.end.year, story.end.month, story.end.day)


def after_two_days(*actions: LayCloth | Water) -> Play:
    story = short_story()
    play = Play(story)
    for _ in play.backfill():
        pass
    for action in actions:
        play.apply(action)
    clock = HurriedClock(story.now_ms)
    play.live(clock, Heard(story), stop_when(clock, story.now_ms + 2 * DAY_MS))
    return play


def test_a_cloth_that_the_grower_lays_cools_its_bed_and_no_other() -> None:
    without, with_cloth = after_two_days(), after_two_days(LayCloth("kiln", 0.5))
    assert with_cloth.beds["kiln"].temperature_c(0.10) < without.beds["kiln"].temperature_c(0.10) - 0.2
    assert with_cloth.beds["wall"].temperature_c(0.10) == without.beds["wall"].temperature_c(0.10)


def test_a_watering_with_no_litres_named_refills_and_one_with_litres_gives_those() -> None:
    dry, refilled, watered = after_two_days(), after_two_days(Water("kiln")), after_two_days(Water("kiln", 30.0))
    lacking_mm = [play.beds["kiln"].depletion_mm for play in (dry, refilled, watered)]
    assert lacking_mm[1] < lacking_mm[2] < lacking_mm[0]
    # of 30 L on 9.6 m², 3.1 mm, a little is drunk faster or drains below the roots
    assert lacking_mm[0] - lacking_mm[2] == pytest.approx(30.0 / 9.6, rel=0.4)


def test_an_action_for_a_bed_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match=r"bed 'moon' is not in the scenario; want one of: kiln, wall, gate"):
        Play(short_story(days=1)).apply(Water("moon"))


@pytest.mark.parametrize("shade", [-0.1, 1.5, math.nan])
def test_a_cloth_that_cannot_be_is_refused(shade: float) -> None:
    with pytest.raises(ValueError, match=r"shade is .*; want 0 to 1"):
        LayCloth("kiln", shade)


@pytest.mark.parametrize("litres", [-1.0, math.nan, math.inf])
def test_a_watering_that_cannot_be_is_refused(litres: float) -> None:
    with pytest.raises(ValueError, match=r"litres is .*; want 0 or more, or None to refill"):
        Water("kiln", litres)
