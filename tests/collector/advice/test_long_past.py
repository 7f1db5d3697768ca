"""What probes said over weeks, rolled up: exact for slow probes, close for quick ones, and never later than asked."""

import numpy as np
import pytest

from collector.advice.long_past import AS_IT_CAME_MS, DAY_MS, fallen_mm, hours, long_series
from collector.advice.season.record import HOUR_MS
from collector.model import Flag, Place, Probe
from collector.units import Quantity
from tests.fakes import NOW_MS
from tests.fakes_advice import MINUTE_MS, FakeReadings, T, every, probe

T12 = probe(T, 0.12)
GAUGE = Probe("rain", "terrace", Quantity.RAIN, "urn:rain", None, Place.BED)
T0 = NOW_MS // HOUR_MS * HOUR_MS
FROM_MS = T0 - 20 * DAY_MS


def said(step_ms, value, of=T12):
    readings = FakeReadings()
    readings.say(of, value, *every(step_ms, FROM_MS, T0))
    return readings


def wave(at_ms):
    return 15.0 + 5.0 * float(np.sin(2 * np.pi * at_ms / DAY_MS))


def test_a_probe_that_speaks_every_ten_minutes_or_less_is_told_exactly():
    readings = said(10 * MINUTE_MS + 1234, wave)
    found, whole = long_series(readings, T12, FROM_MS, T0), readings.series(T12.id, FROM_MS, T0)
    tens = FROM_MS % (10 * MINUTE_MS)
    assert tens == 0
    assert found.time_ms.tolist() == whole.time_ms.tolist()
    assert found.value == pytest.approx(whole.value)


def test_a_quick_probe_is_told_by_means_of_ten_minutes_and_its_last_days_as_they_came():
    readings = said(MINUTE_MS, wave)
    found = long_series(readings, T12, FROM_MS, T0)
    old, new = found.within(0, T0 - AS_IT_CAME_MS), found.within(T0 - AS_IT_CAME_MS, T0)
    assert old.time_ms.size == 17 * 144
    assert new.time_ms.size == 3 * 1440
    assert old.value == pytest.approx([wave(at_ms) for at_ms in old.time_ms.tolist()], abs=0.002)


@pytest.mark.parametrize("step_ms", [MINUTE_MS, 7 * MINUTE_MS, HOUR_MS])
def test_nothing_later_than_asked_is_told(step_ms):
    readings = said(step_ms, wave)
    for to_ms in (T0 - 5 * DAY_MS + 1, T0 - 5 * DAY_MS + 4 * MINUTE_MS, T0 - 3 * DAY_MS):
        for as_it_came_ms in (0, DAY_MS):
            found = long_series(readings, T12, FROM_MS, to_ms, as_it_came_ms)
            assert found.time_ms[-1] < to_ms
            again = long_series(said_until(readings, to_ms), T12, FROM_MS, to_ms, as_it_came_ms)
            assert found.value.tolist() == again.value.tolist()


def said_until(readings, to_ms):
    cut = FakeReadings()
    cut.said = {T12.id: {at_ms: one for at_ms, one in readings.said[T12.id].items() if at_ms < to_ms}}
    return cut


def test_a_picture_keeps_the_warmest_and_the_coldest():
    readings = said(MINUTE_MS, wave)
    found = long_series(readings, T12, FROM_MS, T0, DAY_MS, peaks=True)
    assert (found.value.max(), found.value.min()) == (pytest.approx(20.0, abs=1e-4), pytest.approx(10.0, abs=1e-4))


def test_rain_is_what_fell_and_not_its_mean():
    readings = said(MINUTE_MS, 0.1, GAUGE)
    found = long_series(readings, GAUGE, FROM_MS, T0)
    assert found.value.sum() == pytest.approx(20 * 1440 * 0.1)
    assert fallen_mm(readings, GAUGE.id, FROM_MS, T0) == pytest.approx(20 * 1440 * 0.1)
    assert fallen_mm(readings, "other", FROM_MS, T0) is None


def test_an_hour_is_the_mean_of_what_was_said_in_it_and_silent_hours_are_not_there():
    readings = FakeReadings()
    for at_ms, value in ((T0, 10.0), (T0 + HOUR_MS - 1, 12.0), (T0 + HOUR_MS, 20.0), (T0 + 5 * HOUR_MS + 7, 30.0)):
        readings.say(T12, value, at_ms)
    readings.say(T12, 99.0, T0 + 1, flags=Flag.DUG_UP)
    found = hours(readings, T12.id, T0, T0 + DAY_MS)
    assert found.time_ms.tolist() == [T0 + HOUR_MS // 2, T0 + 3 * HOUR_MS // 2, T0 + 11 * HOUR_MS // 2]
    assert found.value.tolist() == [11.0, 20.0, 30.0]
    assert hours(readings, T12.id, T0, T0 + HOUR_MS).value.tolist() == [11.0]
