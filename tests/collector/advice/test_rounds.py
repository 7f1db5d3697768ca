"""Rounds through the beds: made again when something has changed or time has passed, and only then."""

import pytest

from collector.advice.rounds import ROUND_KEEPS_MS, Rounds
from collector.advice.wetted import Cause
from collector.calls import Due, Job, Memory
from collector.units import Quantity
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakeReadings, FakeSeason, M, bed, every, garden, probe

M15 = probe(M, 0.15)
BED = bed(thermometers_m=())


class CountingReadings(FakeReadings):
    """Counts how often a series is read."""

    reads = 0

    def series(self, probe_id, from_ms, to_ms):
        self.reads += 1
        return super().series(probe_id, from_ms, to_ms)


@pytest.fixture
def made():
    readings, season = CountingReadings(), FakeSeason()
    readings.say(M15, 0.19, *every(10 * MINUTE_MS, NOW_MS - DAY_MS, NOW_MS))
    rounds = Rounds(garden(BED), readings, season)
    rounds.go([BED], NOW_MS)
    return readings, season, rounds


def water(rounds, now_ms):
    (one,) = rounds.go([BED], now_ms)
    return next(call.due for call in one.calls if call.job is Job.WATER)


def test_nothing_is_read_again_while_nothing_has_changed(made):
    readings, _, rounds = made
    assert water(rounds, NOW_MS + ROUND_KEEPS_MS - 1) is Due.DUE
    assert readings.reads == 1


def test_a_new_reading_is_seen_at_once(made):
    readings, _, rounds = made
    readings.say(M15, 0.23, NOW_MS + 1)
    assert water(rounds, NOW_MS + 1) is Due.FINE


def test_a_done_mark_and_its_undoing_are_seen_at_once(made):
    _, season, rounds = made
    season.done("terrace", Job.WATER, NOW_MS + 1)
    assert water(rounds, NOW_MS + 2) is Due.DONE
    season.undo("terrace", Job.WATER, NOW_MS + 3)
    assert water(rounds, NOW_MS + 4) is Due.DUE


def test_what_the_advisor_has_come_to_remember_is_seen_at_once(made):
    readings, season, rounds = made
    readings.say(M15, 0.20, NOW_MS + 1)  # between fine and due: what it is depends on what it was
    assert water(rounds, NOW_MS + 1) is Due.SOON
    season.record([Memory("terrace", Job.WATER, Due.DUE, NOW_MS, told_ms=NOW_MS, told=Due.DUE)], [])
    assert water(rounds, NOW_MS + 2) is Due.DUE


def test_time_that_passes_in_silence_is_seen_after_half_a_minute(made):
    readings, _, rounds = made
    assert water(rounds, NOW_MS + 13 * HOUR_MS) is Due.NOT_KNOWN
    assert readings.reads == 2


def test_a_clock_that_is_set_back_makes_a_new_round(made):
    readings, _, rounds = made
    rounds.go([BED], NOW_MS - 1)
    assert readings.reads == 2


def test_the_growers_word_and_the_rain_of_a_neighbouring_bed_reach_the_state(made):
    readings, season, _ = made
    gauge = probe(Quantity.RAIN, None, "wall")
    readings.say(gauge, lambda at_ms: 4.0 if at_ms == NOW_MS - 2 * HOUR_MS else 0.0, *every(HOUR_MS, NOW_MS - DAY_MS, NOW_MS))
    wall = bed(thermometers_m=(), moistures_m=(), bed_id="wall", others=[Quantity.RAIN])
    rounds = Rounds(garden(BED, wall), readings, season)
    (rained,) = rounds.go([BED], NOW_MS)
    assert (rained.state.wetted.cause, rained.state.wetted.raining) == (Cause.RAIN, True)
    season.done("terrace", Job.WATER, NOW_MS)
    (watered,) = rounds.go([BED], NOW_MS + 1)
    assert (watered.state.wetted.cause, watered.state.wetted.off) == (Cause.WATERING, True)


def test_a_page_works_out_few_seasons_at_once_and_has_them_all_a_few_looks_later():
    beds = [bed(thermometers_m=(), bed_id=f"bed{count}") for count in range(5)]
    rounds = Rounds(garden(*beds), CountingReadings(), FakeSeason(), seasons_a_round=2)
    known = [[one.state.season is not None for one in rounds.go(beds, NOW_MS + look)].count(True) for look in range(4)]
    assert known == [2, 4, 5, 5]
    whole = Rounds(garden(*beds), CountingReadings(), FakeSeason())
    assert all(one.state.season is not None for one in whole.go(beds, NOW_MS))
