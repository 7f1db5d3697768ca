"""A bed as it was and as it is expected: what was true then is what is shown, and what comes is the outlook and no more."""

import math
from dataclasses import replace

import pytest

from collector.errors import QuestionError
from collector.journal import Deed, Entry
from collector.query import Heard, SoilQueries
from collector.units import Quantity
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import (
    DAY_MS,
    FIELD_CAPACITY,
    HOUR_MS,
    MINUTE_MS,
    FakeReadings,
    FakeSeason,
    M,
    T,
    bed,
    every,
    garden,
    outlook,
    probe,
)

DEPTHS_M = (0.05, 0.12, 0.20)
AIR = probe(Quantity.AIR_TEMPERATURE, None)
THEN_MS = NOW_MS - 2 * DAY_MS


def wave_c(depth_m):
    """A day's wave as it goes down into soil (van Wijk and de Vries 1963; from memory): around 17 °C, 8 K at the surface."""
    return lambda at_ms: 17 + 8 * math.exp(-depth_m / 0.1) * math.sin(2 * math.pi * (at_ms % DAY_MS) / DAY_MS - depth_m / 0.1)


def said_until(to_ms):
    """A bed's readings every ten minutes of the four days up to a moment."""
    readings = FakeReadings()
    times = every(10 * MINUTE_MS, NOW_MS - 6 * DAY_MS, to_ms)
    for depth_m in DEPTHS_M:
        readings.say(probe(T, depth_m), wave_c(depth_m), *times)
    readings.say(probe(M, 0.15), lambda at_ms: 0.22 - 0.01 * (at_ms - THEN_MS) / DAY_MS, *times)
    readings.say(AIR, lambda at_ms: 15 + (at_ms % DAY_MS) / DAY_MS, *times)
    return readings


def queries_at(now_ms, *, ahead=None, entries=(), of=None):
    season = FakeSeason()
    season.journal = {n: [one] for n, one in enumerate(entries)}
    if ahead is not None:
        season.outlooks["terrace"] = ahead
    own = of or bed(others=[Quantity.AIR_TEMPERATURE])
    return SoilQueries(garden(own), said_until(now_ms), season, FakeClock(now_ms))


@pytest.mark.parametrize("ago_ms", [2 * DAY_MS, 2 * DAY_MS + 7 * HOUR_MS, 5 * HOUR_MS])
def test_a_bed_is_shown_as_it_was_shown_then(ago_ms):
    then_ms = NOW_MS - ago_ms
    was, is_shown = queries_at(then_ms).bed("terrace"), queries_at(NOW_MS).bed_at("terrace", then_ms)
    assert [each.last.value for each in is_shown.probes] == [each.last.value for each in was.probes]
    assert {each.heard for each in is_shown.probes} == {Heard.FRESH}
    assert is_shown.air_c == was.air_c
    assert is_shown.state.moisture == was.state.moisture
    assert is_shown.state.clove.value == was.state.clove.value
    assert is_shown.state.clove.measured
    for depth_m in DEPTHS_M:  # where a probe sits the track is the estimator's, which believes it to some hundredths
        assert is_shown.state.temperature.at(depth_m).value == pytest.approx(was.state.temperature.at(depth_m).value, abs=0.15)
    assert len(is_shown.crossings_m) == len(was.crossings_m)
    assert is_shown.crossings_m == pytest.approx(was.crossings_m, abs=0.01)


def test_what_was_said_of_now_is_not_said_of_then():
    is_shown = queries_at(NOW_MS).bed_at("terrace", THEN_MS)
    assert (is_shown.calls, is_shown.fine, is_shown.wetted, is_shown.behind, is_shown.expected) == ((), None, None, None, False)


def test_before_anything_was_heard_nothing_is_known():
    is_shown = queries_at(NOW_MS).bed_at("terrace", NOW_MS - 20 * DAY_MS)
    assert (is_shown.state.temperature, is_shown.state.moisture, is_shown.state.clove) == (None, None, None)
    assert (is_shown.cool_line, is_shown.crossings_m, is_shown.air_c) == (None, (), None)
    assert {each.heard for each in is_shown.probes} == {Heard.SILENT}


def test_the_cloth_lies_as_the_journal_has_it_for_that_moment():
    laid, off = (
        Entry("terrace", deed, THEN_MS + hours * HOUR_MS, NOW_MS) for hours, deed in ((0, Deed.CLOTH_LAID), (9, Deed.CLOTH_OFF))
    )
    queries = queries_at(NOW_MS, entries=(laid, off))
    hours = (-1, 1, 8, 10)
    assert queries.bed("terrace").state.season is not None
    lies = [queries.bed_at("terrace", THEN_MS + hour * HOUR_MS).state.season.cloth.lies for hour in hours]
    assert lies == [False, True, True, False]


def test_what_comes_is_the_outlook_and_no_probe_has_said_it():
    ahead = outlook(lambda hour: 16 + hour / 10, lambda hour: 2 + hour / 20)
    at_30h = queries_at(NOW_MS, ahead=ahead).bed_at("terrace", NOW_MS + 30 * HOUR_MS)
    assert at_30h.expected
    assert (at_30h.state.clove.value, at_30h.state.clove.measured, at_30h.state.clove.band) == (pytest.approx(19.0), False, 1.0)
    assert at_30h.state.temperature.at(0.12).value == pytest.approx(19.0)
    assert [each.last for each in at_30h.probes] == [None] * 5
    assert at_30h.air_c is None


def test_water_to_come_is_what_the_root_zone_lacks():
    # Allen et al. 1998, FAO-56, eq. 87, p. 170: Dr = 1000 (θFC - θ) Zr. 3.5 mm in 0.30 m of roots: 0.0117.
    ahead = outlook(16.0, lambda hour: 2 + hour / 20)
    at_30h = queries_at(NOW_MS, ahead=ahead).bed_at("terrace", NOW_MS + 30 * HOUR_MS)
    assert at_30h.state.water.depletion_mm == pytest.approx(3.5)
    assert at_30h.state.moisture.at(0.1).value == pytest.approx(FIELD_CAPACITY - 0.0117, abs=1e-4)


@pytest.mark.parametrize("ahead", [None, outlook(16.0)])
def test_beyond_what_is_foreseen_there_is_no_answer(ahead):
    with pytest.raises(QuestionError, match=r"terrace at \d+ ms: not foreseen"):
        queries_at(NOW_MS, ahead=ahead).bed_at("terrace", NOW_MS + 8 * DAY_MS)


def test_one_thermometer_tells_of_no_line_at_any_time():
    lone = replace(bed(thermometers_m=(0.12,), moistures_m=()), cool_limit_c=16.0)
    queries = queries_at(NOW_MS, of=lone, ahead=outlook(16.0))
    for hours in (-5, 5):
        is_shown = queries.bed_at("terrace", NOW_MS + hours * HOUR_MS)
        assert (is_shown.cool_line, is_shown.crossings_m) == (None, ())
