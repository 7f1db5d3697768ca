"""What the journal says was laid on a bed lies on it: in the models, and once where the garden file has it too."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from collector.advice.covered import covered
from collector.advice.rounds import Rounds
from collector.forecaster import Forecaster
from collector.journal import Deed, Entry
from collector.lookout import Lookout
from collector.model import Cover
from collector.outlook import Change
from tests.collector.advice.test_what_ifs import soil_says
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, FakeReadings, FakeSeason, bed, garden

ZONE = ZoneInfo("Europe/Lisbon")
COMPOST = Cover("compost", 0.05, dt.date(2025, 10, 20))
FILED = replace(bed(), covers=(COMPOST,))


def laid(days_ago, what="straw", thickness_m=0.09, bed_id="terrace", deed=Deed.COVERED):
    amounts = {} if thickness_m is None else {"thickness_m": thickness_m}
    return Entry(bed_id, deed, NOW_MS - days_ago * DAY_MS, NOW_MS, what=what, amounts=amounts)


def layers(*entries, of=FILED):
    return [(one.material, one.thickness_m) for one in covered(of, entries, ZONE, NOW_MS).covers]


def test_what_was_laid_lies_on_what_the_file_tells_in_its_order():
    assert layers(laid(10, "Leaves", 0.03), laid(20)) == [("compost", 0.05), ("straw", 0.09), ("leaves", 0.03)]
    assert covered(FILED, [], ZONE, NOW_MS) is FILED


@pytest.mark.parametrize(
    "entry",
    [
        laid(10, what=None),
        laid(10, thickness_m=None),
        laid(10, thickness_m=0.0),
        laid(10, bed_id="gate"),
        laid(10, deed=Deed.NOTED),
        laid(-1),
        laid(400),
    ],
)
def test_what_tells_too_little_or_is_of_another_bed_day_or_year_lies_not(entry):
    assert layers(entry) == [("compost", 0.05)]


def test_what_the_file_has_too_is_there_once():
    day = (NOW_MS - 10 * DAY_MS) // 1000
    since = dt.datetime.fromtimestamp(day, ZONE).date()
    for filed in (Cover("straw", 0.09, since + dt.timedelta(days=3)), Cover("Straw", 0.08)):
        assert len(layers(laid(10), of=replace(bed(), covers=(filed,)))) == 1
    old = replace(bed(), covers=(Cover("straw", 0.09, since - dt.timedelta(days=90)),))
    assert len(layers(laid(10), of=old)) == 2  # a second layer, months later


def test_the_round_and_the_outlook_go_by_it():
    season, readings = FakeSeason(), soil_says()
    season.write(laid(5, "straw", 0.10))
    (here,) = Rounds(garden(bed()), readings, season).go([bed()], NOW_MS)
    assert [one.material for one in here.state.bed.covers] == ["straw"]

    def bare_k(journal):
        of = garden(bed())
        found = Lookout(of, readings, journal, Forecaster(of, readings), FakeClock()).outlook(bed(), NOW_MS)
        return [float(one.mean_k[95]) for one in found.what_ifs if one.change is Change.BARE]

    assert bare_k(FakeSeason()) == []  # there is nothing to take away
    assert bare_k(season)[0] > 0.3


def test_a_garden_that_says_nothing_is_as_its_file():
    assert covered(bed(), [laid(5)], ZONE, NOW_MS).covers != bed().covers
    assert Rounds(garden(bed()), FakeReadings(), FakeSeason()).go([bed()], NOW_MS)[0].state.bed == bed()
