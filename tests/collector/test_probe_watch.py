"""The watch over the probes: what is not of the soil is marked on the readings, at once and no longer than it is true."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from collector.advisor import Advisor
from collector.calls import Job
from collector.checks import check
from collector.decode import senml
from collector.model import Flag, Reading
from collector.notices import Notices
from collector.probe_watch import ProbeWatch
from collector.simulate.play import Play
from collector.simulate.scenario import demo_scenario
from tests.collector.soil.estimate import test_drifting
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakePhone, FakeReadings, FakeSeason, M, T, bed, every, garden, probe

DEPTHS_M = (0.05, 0.12, 0.20)
BED = bed(thermometers_m=DEPTHS_M)
TEN = 10 * MINUTE_MS
BEGIN_MS = NOW_MS // DAY_MS * DAY_MS
OUT_MS, BACK_MS = BEGIN_MS + 4 * DAY_MS + 5 * HOUR_MS, BEGIN_MS + 4 * DAY_MS + 9 * HOUR_MS


def soil_c(depth_m):
    """The wave of a day in a uniform soil with a damping depth of 11 cm."""
    return lambda at_ms: 16.0 + 6.0 * math.exp(-depth_m / 0.11) * math.sin(2 * math.pi * at_ms / DAY_MS - depth_m / 0.11)


def air_c(at_ms):
    return 16.0 + 13.0 * math.sin(2 * math.pi * at_ms / DAY_MS + 0.4)


class Season:
    """A bed whose stake speaks every ten minutes, and the watch over it."""

    def __init__(self, out_ms=OUT_MS, back_ms=BACK_MS):
        self.readings, self.clock = FakeReadings(), FakeClock(BEGIN_MS)
        self.out_ms, self.back_ms = out_ms, back_ms
        self.start()

    def start(self):
        """The collector starts, or starts again: it remembers nothing."""
        self.watch = ProbeWatch(garden(BED), self.readings, self.readings, self.clock)

    def until(self, end_ms, look_every_ms=TEN, speaks=True):
        while self.clock.at_ms < end_ms:
            self.clock.pass_s(600)
            at_ms = self.clock.at_ms
            out = self.out_ms <= at_ms < self.back_ms
            for depth_m in DEPTHS_M if speaks else ():
                self.readings.say(probe(T, depth_m), air_c if out else soil_c(depth_m), at_ms)
            if speaks:
                self.readings.say(probe(M, 0.15), 0.02 if out else 0.2, at_ms)
            if at_ms % look_every_ms == 0:
                self.clock.pass_s(360)  # the ten minutes of a reading are over five minutes after it
                self.watch.look()
                self.clock.pass_s(-360)
        return self

    def marked(self, flag=Flag.DUG_UP):
        """First and last marked time of each probe that has any."""
        found = {}
        for probe_id, said in self.readings.said.items():
            times_ms = [at_ms for at_ms, one in said.items() if one.flags & flag]
            if times_ms:
                found[probe_id] = (min(times_ms), max(times_ms), len(times_ms))
        return found


def everything(first_ms, last_ms):
    """Every probe in the soil, marked without a gap."""
    span = (first_ms, last_ms, (last_ms - first_ms) // TEN + 1)
    return {one.id: span for one in BED.probes}


# ---------------------------------------------------------------- dug up


def test_a_stake_in_the_air_is_marked_within_ten_minutes_its_moisture_probe_with_it():
    season = Season().until(OUT_MS - TEN)
    assert season.marked() == {}
    assert season.until(OUT_MS).marked() == everything(OUT_MS, OUT_MS)
    assert season.until(OUT_MS + HOUR_MS).marked() == everything(OUT_MS, OUT_MS + HOUR_MS)


def test_once_it_was_back_for_three_hours_only_what_it_said_in_the_air_stays_marked():
    season = Season().until(BACK_MS + 2 * HOUR_MS)
    assert season.marked() == everything(OUT_MS, BACK_MS + 2 * HOUR_MS)
    assert season.until(BACK_MS + 4 * HOUR_MS).marked() == everything(OUT_MS, BACK_MS - TEN)


@pytest.mark.parametrize("hours", [2, 10])
def test_a_restart_changes_no_mark(hours):
    season = Season().until(OUT_MS + hours * HOUR_MS)
    before = season.marked()
    season.start()
    season.until(OUT_MS + hours * HOUR_MS + TEN)
    out = hours == 2
    assert before == everything(OUT_MS, OUT_MS + 2 * HOUR_MS if out else BACK_MS - TEN)
    assert season.marked() == everything(OUT_MS, OUT_MS + 2 * HOUR_MS + TEN if out else BACK_MS - TEN)


def test_marks_older_than_what_a_restart_looks_at_stand():
    season = Season().until(BACK_MS + 3 * DAY_MS, look_every_ms=HOUR_MS)
    season.start()
    season.until(BACK_MS + 3 * DAY_MS + HOUR_MS, look_every_ms=HOUR_MS)
    assert season.marked() == everything(OUT_MS, BACK_MS - TEN)


def test_a_stake_that_lies_out_for_days_stays_marked_and_is_back_once_a_day_fades_with_depth_again():
    back_ms = OUT_MS + 4 * DAY_MS
    season = Season(back_ms=back_ms).until(back_ms - TEN, look_every_ms=HOUR_MS)
    (last_ms,) = {last_ms for _, last_ms, _ in season.marked().values()}
    assert last_ms >= back_ms - HOUR_MS
    season.until(back_ms + 2 * DAY_MS, look_every_ms=HOUR_MS)
    (last_ms,) = {last_ms for _, last_ms, _ in season.marked().values()}
    assert back_ms - 6 * HOUR_MS <= last_ms <= back_ms + DAY_MS


def test_a_pack_that_comes_hours_late_out_of_the_air_is_marked_too():
    season = Season().until(OUT_MS - TEN).until(OUT_MS + 3 * HOUR_MS, speaks=False)
    for at_ms in every(TEN, OUT_MS, OUT_MS + 3 * HOUR_MS):
        for depth_m in DEPTHS_M:
            season.readings.say(probe(T, depth_m), air_c, at_ms)
    season.until(OUT_MS + 3 * HOUR_MS + TEN)
    assert season.marked()[probe(T, 0.12).id][0] == OUT_MS


def test_soil_is_never_marked_and_a_bed_with_one_thermometer_is_left_alone():
    assert Season(out_ms=1 << 60).until(BEGIN_MS + 4 * DAY_MS, look_every_ms=HOUR_MS).marked() == {}
    lone = bed(thermometers_m=(0.12,))
    readings = FakeReadings()
    readings.say(probe(T, 0.12), air_c, *every(TEN, NOW_MS - 3 * DAY_MS, NOW_MS))
    ProbeWatch(garden(lone), readings, readings, FakeClock()).look()
    assert not any(one.flags for one in readings.said[probe(T, 0.12).id].values())


def test_a_garden_that_never_spoke_is_looked_at_in_peace():
    readings = FakeReadings()
    ProbeWatch(garden(BED, bed(bed_id="bare", thermometers_m=(), moistures_m=())), readings, readings, FakeClock()).look()
    assert readings.said == {}


def test_what_is_marked_is_told_the_grower_once_and_cleared_when_the_stake_is_back():
    season, kept = Season().until(OUT_MS - TEN), FakeSeason()
    notices = Notices(garden(BED), kept, [FakePhone()], season.clock)
    advisor = Advisor(garden(BED), season.readings, kept, notices, season.clock)
    while season.clock.at_ms < BACK_MS + 4 * HOUR_MS:
        season.until(season.clock.at_ms + HOUR_MS)
        advisor.look()
    stakes = [notice for notice in kept.told if notice.job is Job.STAKE]
    assert [notice.title for notice in stakes] == ["Terrace bed: push the stake back in"]
    assert stakes[0].raised_ms <= OUT_MS + HOUR_MS
    assert BACK_MS + 3 * HOUR_MS <= stakes[0].cleared_ms <= BACK_MS + 4 * HOUR_MS
    assert not [notice for notice in kept.told if notice.job is Job.LOOK]


# ---------------------------------------------------------------- failing


def month(change, begin_day=24):
    """31 days of hourly readings; the probe at 12 cm goes wrong by `change` (value, days since) from a day on."""
    readings = FakeReadings()
    wrong_ms = BEGIN_MS - (31 - begin_day) * DAY_MS
    for depth_m in DEPTHS_M:
        readings.say(probe(T, depth_m), soil_c(depth_m), *every(HOUR_MS, BEGIN_MS - 31 * DAY_MS, BEGIN_MS))
    for at_ms in every(HOUR_MS, wrong_ms, BEGIN_MS):
        readings.say(probe(T, 0.12), change(soil_c(0.12)(at_ms), (at_ms - wrong_ms) / DAY_MS), at_ms)
    return readings, wrong_ms


def flagged(readings, flag):
    return {probe_id for probe_id, said in readings.said.items() if any(one.flags & flag for one in said.values())}


@pytest.mark.parametrize(
    ("change", "flag"),
    [
        (lambda value_c, days: value_c + 0.8 * days, Flag.DRIFTS),
        (lambda value_c, days: value_c + (1.5 if round(days * 24) % 2 else -1.5), Flag.SCATTERS),
        (lambda value_c, days: 15.0 + 0.0 * (value_c + days), Flag.STANDS_STILL),
    ],
)
def test_a_probe_that_fails_is_marked_with_how_and_it_alone(change, flag):
    readings, wrong_ms = month(change)
    clock = FakeClock(BEGIN_MS + HOUR_MS)
    watch = ProbeWatch(garden(BED), readings, readings, clock)
    watch.look()
    assert flagged(readings, flag) == {probe(T, 0.12).id}
    said = readings.said[probe(T, 0.12).id]
    assert said[BEGIN_MS].flags & flag
    assert not any(one.flags & flag for at_ms, one in said.items() if at_ms < wrong_ms)
    for depth_m in DEPTHS_M:  # what comes during the day is marked as it comes
        readings.say(probe(T, depth_m), 15.0, BEGIN_MS + 2 * HOUR_MS)
    clock.pass_s(3600)
    watch.look()
    assert said[BEGIN_MS + 2 * HOUR_MS].flags & flag


def test_a_probe_that_was_mended_two_days_ago_is_believed_again():
    readings, _ = month(lambda value_c, days: value_c + (3.0 if days < 4 else 0.0), begin_day=24)
    ProbeWatch(garden(BED), readings, readings, FakeClock(BEGIN_MS + HOUR_MS)).look()
    said = readings.said[probe(T, 0.12).id]
    assert not said[BEGIN_MS].flags & Flag.DRIFTS
    assert not said[BEGIN_MS - 2 * DAY_MS].flags & Flag.DRIFTS


# ---------------------------------------------------------------- the simulated garden


def test_in_the_simulated_garden_the_stake_that_was_dug_up_is_found_and_nothing_else():
    """Two weeks around the day 40 days ago on which the story has its kiln stake dug up, with flags as the intake gives them."""
    story = demo_scenario()
    dug = next(fault for plan in story.stakes for fault in plan.faults if fault.kind.name == "DUG_UP")
    first = dt.datetime.fromtimestamp(dug.first_ms / 1000, dt.UTC).date() - dt.timedelta(days=5)
    kiln = story.beds[0]
    plans = tuple(plan for plan in story.stakes if plan.bed_id == kiln.id)
    end_ms = dug.end_ms + 2 * DAY_MS
    story = replace(story, beds=(kiln,), stakes=plans, habits=(), weather_first=first, first=first, now_ms=end_ms)
    by_address, memory, readings = {one.address: one for one in kiln.probes}, {}, FakeReadings()
    for _, pack in Play(story).backfill():
        for one in senml.decode(pack):
            of = by_address[one.address]
            memory[of.id], flags = check(memory.get(of.id), of, one.measured_ms, one.value, one.measured_ms)
            said = Reading(of.id, one.measured_ms, one.value, one.value, one.measured_ms, flags)
            readings.said.setdefault(of.id, {})[one.measured_ms] = said
    whole = {probe_id: dict(said) for probe_id, said in readings.said.items()}
    clock = FakeClock(dug.first_ms - 2 * DAY_MS)
    watch = ProbeWatch(garden(kiln), readings, readings, clock)
    while clock.at_ms < end_ms:
        clock.pass_s(3600)
        for probe_id, said in whole.items():
            marks = readings.said[probe_id]
            readings.said[probe_id] = {at: marks.get(at, one) for at, one in said.items() if at <= clock.at_ms}
        watch.look()
    for one in kiln.probes:
        marked = [at_ms for at_ms, said in readings.said[one.id].items() if said.flags & Flag.DUG_UP]
        if one.depth_m is None:
            assert marked == []
        else:
            # the air may pass through the soil's temperature just before the stake is pushed back in
            assert (min(marked), max(marked)) == (dug.first_ms, pytest.approx(dug.end_ms - TEN, abs=HOUR_MS))
    assert not flagged(readings, Flag.DRIFTS | Flag.SCATTERS | Flag.STANDS_STILL)


# ---------------------------------------------------------------- drift over weeks


def test_one_that_crept_away_over_a_month_is_marked_and_stays_so_over_the_next_look():
    days, place = 215, 1
    depths_m = test_drifting.DEPTHS_M
    means_c = test_drifting.means_c(days)
    means_c[:, place] += np.clip((np.arange(days) - 165) / 30, 0, 1)
    here = bed(thermometers_m=depths_m, moistures_m=())
    readings, begin_ms = FakeReadings(), NOW_MS // DAY_MS * DAY_MS - days * DAY_MS
    for depth_m, column in zip(depths_m, means_c.T, strict=True):
        wave_c = [3.0 * math.exp(-depth_m / 0.11) * math.sin(2 * math.pi * hour / 24 - depth_m / 0.11) for hour in range(24)]
        for day, mean_c in enumerate(column.tolist()):
            for hour in range(24):
                readings.say(probe(T, depth_m), mean_c + wave_c[hour], begin_ms + day * DAY_MS + hour * HOUR_MS)
    clock = FakeClock(begin_ms + (days - 1) * DAY_MS + HOUR_MS)
    watch = ProbeWatch(garden(here), readings, readings, clock)

    def marked():
        return {name for name, said in readings.said.items() if any(one.flags & Flag.DRIFTS for one in said.values())}

    watch.look()
    assert marked() == {probe(T, depths_m[place]).id}
    clock.pass_s(86_400)
    watch.look()
    assert marked() == {probe(T, depths_m[place]).id}
    newest = max(readings.said[probe(T, depths_m[place]).id])
    assert readings.said[probe(T, depths_m[place]).id][newest].flags & Flag.DRIFTS
