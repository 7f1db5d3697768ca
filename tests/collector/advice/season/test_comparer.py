"""The seasons a garden can look back on, and two of them beside each other, out of the stores."""

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from collector.advice.season.comparer import Choice, Comparer
from collector.advice.season.record import start_of
from collector.errors import QuestionError
from collector.journal import Deed, Entry
from tests.fakes import FakeClock
from tests.fakes_advice import HOUR_MS, FakeReadings, FakeSeason, T, bed, garden, probe

ZONE = ZoneInfo("Europe/Lisbon")
TODAY = dt.date(2026, 4, 13)
TERRACE = bed(thermometers_m=(0.12,), moistures_m=())
GATE = bed(thermometers_m=(0.12,), moistures_m=(), bed_id="gate", name="Gate bed")


def at(day, hour=12):
    return start_of(day, ZONE) + round(hour * HOUR_MS)


class CountedReadings(FakeReadings):
    """Readings that count how often they were asked for a series."""

    asked = 0

    def series(self, probe_id, from_ms, to_ms):
        self.asked += 1
        return super().series(probe_id, from_ms, to_ms)


def comparer():
    """Two beds this spring, of which the terrace is 2 K warmer, and 3 K warmer still than a year before."""
    readings, season, clock = CountedReadings(), FakeSeason(), FakeClock(at(TODAY, 12))
    for day in range(30):
        for hour in range(24):
            for one, date, base_c in (
                (TERRACE, dt.date(2026, 3, 1), 16.0),
                (GATE, dt.date(2026, 3, 1), 14.0),
                (TERRACE, dt.date(2025, 3, 1), 13.0),
            ):
                readings.say(probe(T, 0.12, one.id), base_c + 0.1 * day, at(date + dt.timedelta(days=day), hour + 0.5))
    season.write(Entry("terrace", Deed.PLANTED, at(dt.date(2024, 10, 15)), at(dt.date(2024, 10, 15))))
    season.write(Entry("terrace", Deed.LIFTED, at(dt.date(2025, 6, 20)), at(dt.date(2025, 6, 20))))
    return Comparer(garden(TERRACE, GATE), readings, season, clock), readings, season, clock


NOW, BEFORE, OTHER = "2025-10-20-terrace", "2024-10-15-terrace", "2025-10-20-gate"


def test_the_seasons_to_choose_from_are_those_of_each_bed_the_newest_first():
    assert comparer()[0].choices() == (
        Choice(NOW, "Terrace bed, planted 20 October 2025"),
        Choice(BEFORE, "Terrace bed, planted 15 October 2024"),
        Choice(OTHER, "Gate bed, planted 20 October 2025"),
    )


def test_two_beds_are_compared_on_their_common_days():
    found = comparer()[0].compare(NOW, OTHER)
    assert found.headline == "Terrace bed was 2 °C warmer at the cloves than Gate bed."
    assert (found.first, found.second, found.limit_c) == ("Terrace bed", "Gate bed", 18.0)
    (first_march,) = np.flatnonzero(found.at_ms == at(dt.date(2026, 3, 1)))
    assert (found.first_c[first_march], found.second_c[first_march]) == (pytest.approx(16.0), pytest.approx(14.0))


def test_two_seasons_of_one_bed_are_compared_on_the_same_days_of_the_year():
    found = comparer()[0].compare(NOW, BEFORE)
    assert found.headline == (
        "Terrace bed, planted 20 October 2025 was 3 °C warmer at the cloves than Terrace bed, planted 15 October 2024."
    )
    assert any("1 year apart" in note for note in found.notes)


def test_what_was_read_is_kept_within_the_hour_until_something_is_written_down():
    asked, readings, season, clock = comparer()
    asked.compare(NOW, OTHER)
    once = readings.asked
    asked.compare(NOW, OTHER)
    assert readings.asked == once
    season.write(Entry("gate", Deed.WATERED, at(TODAY, 8), at(TODAY, 8), amounts={"litres": 10.0}))
    assert dict(asked.compare(NOW, OTHER).rows)["Water given"].endswith("and 1 litres a square metre")
    twice = readings.asked
    clock.sleep(3600.0)
    asked.compare(NOW, OTHER)
    assert readings.asked > twice


def test_a_season_that_is_none_is_told_with_those_that_there_are():
    with pytest.raises(QuestionError, match=f"season 'moon': no planting of this garden begins it; there are {NOW}, {BEFORE}"):
        comparer()[0].compare(NOW, "moon")
