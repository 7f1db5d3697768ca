"""A bed that is followed: what is fed bit by bit tells the same as what is learned at once, and only what is new is fed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from collector.advice.follow import LEAST_PAST_MS, PAST_MS, Follower, Followers, cloves_of
from collector.advice.rounds import LEARNED_A_ROUND, Rounds, series_of
from collector.advice.state import STATE_SPAN_MS
from collector.model import Flag
from collector.soil.estimate.column import Column
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakeReadings, FakeSeason, T, bed, every, garden, probe

BED = bed(thermometers_m=(0.05, 0.20), moistures_m=(), clove_m=0.12)
DEPTHS_M = {"terrace-soil_temperature-5": 0.05, "terrace-soil_temperature-20": 0.20}


def soil_c(depth_m):
    """The wave of a day in a uniform soil with a damping depth of 11 cm."""

    def at(at_ms):
        return 16.0 + 7.0 * math.exp(-depth_m / 0.11) * math.sin(2 * math.pi * at_ms / DAY_MS - depth_m / 0.11)

    return at


def spoken(days=6.0, until_ms=NOW_MS, pace_ms=10 * MINUTE_MS):
    readings = FakeReadings()
    for depth_m in (0.05, 0.20):
        readings.say(probe(T, depth_m), soil_c(depth_m), *every(pace_ms, round(NOW_MS - days * DAY_MS), until_ms))
    return readings


def recent(readings, now_ms):
    return series_of(BED, readings, now_ms - STATE_SPAN_MS, now_ms + 1)


def follow(follower, readings, now_ms):
    if follower.stale(recent(readings, now_ms), now_ms - DAY_MS, now_ms):
        follower.learn(readings, now_ms - DAY_MS, now_ms)
    return follower.follow(recent(readings, now_ms), now_ms)


class CountingFollower(Follower):
    learned = 0

    def learn(self, readings, track_from_ms, now_ms):
        self.learned += 1
        super().learn(readings, track_from_ms, now_ms)


def follower():
    return CountingFollower(BED.probes, cloves_of(BED))


def test_the_cloves_between_two_probes_are_told_by_the_wave_of_the_soil():
    followed = follow(follower(), spoken(), NOW_MS)
    told_c = followed.track.at(np.array([NOW_MS - 6 * HOUR_MS, NOW_MS]))[:, 0]
    assert told_c == pytest.approx([soil_c(0.12)(NOW_MS - 6 * HOUR_MS), soil_c(0.12)(NOW_MS)], abs=0.4)


def test_fed_hour_by_hour_it_knows_the_same_as_learned_at_once():
    readings, fed = spoken(), follower()
    begin_ms = NOW_MS // DAY_MS * DAY_MS + 2 * HOUR_MS
    for now_ms in range(begin_ms, NOW_MS + 1, 20 * MINUTE_MS):
        bit_by_bit = follow(fed, readings, now_ms)
    assert fed.learned == 1
    at_once = follow(follower(), readings, NOW_MS)
    assert bit_by_bit.now.state == pytest.approx(at_once.now.state, abs=1e-9)
    grid_ms = np.arange(NOW_MS - 20 * HOUR_MS, NOW_MS, HOUR_MS)
    assert bit_by_bit.track.at(grid_ms) == pytest.approx(at_once.track.at(grid_ms), abs=0.05)


def test_readings_of_the_last_hour_may_come_in_any_order():
    readings, fed = spoken(until_ms=NOW_MS - HOUR_MS), follower()
    follow(fed, readings, NOW_MS)
    readings.say(probe(T, 0.20), soil_c(0.20), *every(10 * MINUTE_MS, NOW_MS - 50 * MINUTE_MS, NOW_MS))
    follow(fed, readings, NOW_MS)
    readings.say(probe(T, 0.05), soil_c(0.05), *every(10 * MINUTE_MS, NOW_MS - 50 * MINUTE_MS, NOW_MS))
    late = follow(fed, readings, NOW_MS)
    assert fed.learned == 1
    assert late.now.state == pytest.approx(follow(follower(), readings, NOW_MS).now.state, abs=1e-9)


@pytest.mark.parametrize("how", ["late", "marked"])
def test_readings_that_come_hours_late_or_are_marked_make_it_learn_anew(how):
    readings, fed = spoken(), follower()
    odd = every(10 * MINUTE_MS, NOW_MS - 9 * HOUR_MS, NOW_MS - 6 * HOUR_MS)
    if how == "late":
        for at_ms in odd:
            del readings.said[probe(T, 0.05).id][at_ms]
    follow(fed, readings, NOW_MS)
    readings.say(probe(T, 0.05), soil_c(0.05), *odd, flags=Flag.NONE if how == "late" else Flag.DUG_UP)
    found = follow(fed, readings, NOW_MS)
    assert fed.learned == 2
    assert found.now.state == pytest.approx(follow(follower(), readings, NOW_MS).now.state, abs=1e-9)


def test_it_is_learned_anew_once_a_night_and_when_the_clock_is_set_back():
    readings, fed = spoken(), follower()
    follow(fed, readings, NOW_MS - DAY_MS)
    follow(fed, readings, NOW_MS)
    assert fed.learned == 2
    follow(fed, readings, NOW_MS - 3 * HOUR_MS)
    assert fed.learned == 3


def test_a_bed_that_has_spoken_for_less_than_a_day_is_not_followed_yet():
    days = LEAST_PAST_MS / DAY_MS
    assert follow(follower(), spoken(days - 0.05), NOW_MS) is None
    assert follow(follower(), spoken(days + 0.05), NOW_MS) is not None
    assert follow(follower(), FakeReadings(), NOW_MS) is None


def test_a_track_begins_when_the_bed_had_spoken_for_a_day_and_ends_now():
    track = follow(follower(), spoken(1.5), NOW_MS).track
    assert NOW_MS - 0.5 * DAY_MS <= track.time_ms[0] <= NOW_MS - 0.5 * DAY_MS + HOUR_MS
    assert track.time_ms[-1] == NOW_MS
    assert np.isnan(track.at(np.array([NOW_MS - DAY_MS, NOW_MS + 1]))).all()


def test_through_a_silence_the_band_grows():
    silent = follow(follower(), spoken(until_ms=NOW_MS - 8 * HOUR_MS), NOW_MS).track
    spoke, now = np.searchsorted(silent.time_ms, NOW_MS - 9 * HOUR_MS), -1
    assert silent.half_band_k[now, 0] > 1.5 * silent.half_band_k[spoke, 0]


def test_no_reading_from_before_the_past_it_needs_is_asked_for():
    asked = []

    class Listening(FakeReadings):
        def series(self, probe_id, from_ms, to_ms):
            asked.append(from_ms)
            return super().series(probe_id, from_ms, to_ms)

        def steps(self, probe_id, from_ms, to_ms, every):
            asked.append(from_ms)
            return super().steps(probe_id, from_ms, to_ms, every)

    follower().learn(Listening(), NOW_MS - DAY_MS, NOW_MS)
    assert min(asked) >= NOW_MS - DAY_MS - PAST_MS
    assert asked


def test_a_round_knows_the_bed_by_the_estimator_and_learns_few_beds_at_once():
    beds = [bed(thermometers_m=(0.05, 0.20), moistures_m=(), bed_id=f"bed{count}") for count in range(LEARNED_A_ROUND + 2)]
    readings = FakeReadings()
    for one in beds:
        for depth_m in (0.05, 0.20):
            readings.say(probe(T, depth_m, one.id), soil_c(depth_m), *every(30 * MINUTE_MS, NOW_MS - 3 * DAY_MS, NOW_MS))
    rounds = Rounds(garden(*beds), readings, FakeSeason())
    kinds = [type(one.state.temperature) for one in rounds.go(beds, NOW_MS)]
    assert kinds.count(Column) == LEARNED_A_ROUND
    later = rounds.go(beds, NOW_MS + MINUTE_MS)
    assert [type(one.state.temperature) for one in later] == [Column] * len(beds)
    assert later[0].state.clove.band > 0
    assert later[0].state.clove.value == pytest.approx(soil_c(0.12)(NOW_MS + MINUTE_MS), abs=0.4)


def test_followers_keep_one_for_each_bed():
    followers = Followers(spoken(), cloves_of)
    assert followers.of(BED) is followers.of(BED)
    found, learned = followers.followed(BED, recent(spoken(), NOW_MS), NOW_MS - DAY_MS, NOW_MS, may_learn=False)
    assert (found, learned) == (None, False)
