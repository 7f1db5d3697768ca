"""Seasons: worked out each hour and when something is written down, from the right probes, and not in between."""

import datetime as dt
from dataclasses import replace

import pytest

from collector.advice.season.seasons import Seasons
from collector.journal import Deed, Entry
from collector.model import Place, Probe
from collector.units import Quantity
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, FakeReadings, FakeSeason, T, bed, every, garden, outlook, probe

SHED = Probe("shed", "terrace", Quantity.AIR_TEMPERATURE, "urn:shed", place=Place.CURING)
BED = bed(thermometers_m=(0.12,), moistures_m=(), others=[])


class Asked:
    def __init__(self, *beds):
        self.garden = garden(*(beds or (BED,)))
        self.readings, self.journal = FakeReadings(), FakeSeason()
        self.seasons = Seasons(self.garden, self.readings, self.journal)

    def of(self, now_ms, ahead=None, which=0):
        return self.seasons.of(self.garden.beds[which], self.seasons.entries(now_ms), ahead, now_ms)


def test_the_season_is_the_same_object_until_an_hour_has_passed_or_something_is_new():
    asked = Asked()
    now_ms = NOW_MS // HOUR_MS * HOUR_MS
    first = asked.of(now_ms)
    assert asked.of(now_ms + HOUR_MS - 1) is first
    assert asked.of(now_ms + HOUR_MS) is not first
    second = asked.of(now_ms + HOUR_MS)
    asked.journal.write(Entry("terrace", Deed.COUNTED, now_ms, now_ms, amounts={"leaves": 5}))
    third = asked.of(now_ms + HOUR_MS + 1)
    assert third is not second
    assert third.plantings[0].looks[0].leaves == 5
    assert asked.of(now_ms + HOUR_MS + 2, outlook(14.0)) is not third


def test_an_entry_about_another_bed_changes_nothing():
    asked = Asked()
    first = asked.of(NOW_MS)
    asked.journal.write(Entry("gate", Deed.COUNTED, NOW_MS - 1, NOW_MS, amounts={"leaves": 5}))
    assert asked.of(NOW_MS) is first


def test_heat_comes_from_the_air_over_the_garden_and_never_from_the_curing_place():
    neighbour = bed(bed_id="gate", thermometers_m=(), moistures_m=(), clove_m=None, others=[Quantity.AIR_TEMPERATURE])
    own = replace(BED, probes=(*BED.probes, SHED))
    asked = Asked(own, neighbour)
    times = list(every(HOUR_MS // 2, NOW_MS - 3 * DAY_MS, NOW_MS))
    asked.readings.say(SHED, 40.0, *times)
    assert asked.of(NOW_MS).plantings[0].heat is None
    asked.readings.say(probe(Quantity.AIR_TEMPERATURE, None, "gate"), 14.0, *times)
    heat = asked.of(NOW_MS + HOUR_MS).plantings[0].heat
    assert heat.sum_k_d == pytest.approx(30.0, abs=0.6)


def test_the_soil_at_the_cloves_chills_by_its_own_thermometer():
    asked = Asked()
    asked.readings.say(probe(T, 0.12), 8.0, *every(HOUR_MS // 2, NOW_MS - 2 * DAY_MS, NOW_MS))
    state = asked.of(NOW_MS)
    assert state.plantings[0].chill.gathered_s == pytest.approx(2 * 86_400, abs=3600)
    assert state.plantings[0].soil_c == pytest.approx(8.0)


def test_a_garden_with_no_planting_asks_the_stores_for_nothing():
    bare = Asked(bed(thermometers_m=(0.12,), moistures_m=(), clove_m=None))
    bare.readings.series = None  # asking would raise
    assert bare.of(NOW_MS).plantings == ()
    assert bare.seasons.entries(NOW_MS) == ()
    assert bare.of(NOW_MS).today == dt.datetime.fromtimestamp(NOW_MS / 1000, dt.UTC).date()


def test_what_comes_days_late_is_in_the_sums_of_the_next_hour():
    asked, now_ms = Asked(), NOW_MS // (7 * DAY_MS) * 7 * DAY_MS + 4 * DAY_MS
    soil = probe(T, 0.12)
    asked.readings.say(soil, 8.0, *every(HOUR_MS // 2, now_ms - 2 * DAY_MS, now_ms))
    before = asked.of(now_ms).plantings[0].chill.gathered_s
    asked.readings.say(soil, 8.0, *every(HOUR_MS // 2, now_ms - 9 * DAY_MS, now_ms - 8 * DAY_MS))
    assert asked.of(now_ms + HOUR_MS).plantings[0].chill.gathered_s > before + 80_000
