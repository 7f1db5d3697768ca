"""What might be changed in a bed: each change goes the way that physics says, and is told in the grower's words."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from collector.advice.foresight import bed_today, what_ifs_ahead
from collector.advice.voice import Voice
from collector.advice.what_if_words import planting_words, what_if_view
from collector.calls import DoneMark, Job
from collector.forecaster import Forecaster
from collector.model import Cover
from collector.outlook import Change, Outlook, from_plain, to_plain
from collector.soil.forecast.inputs import Weather
from collector.soil.what_if import Cloth, difference_k
from collector.units import UnitSystem
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, FakeReadings, T, bed, every, garden, outlook, probe, state

METRIC, US = (Voice(units, ZoneInfo("Europe/Lisbon")) for units in (UnitSystem.METRIC, UnitSystem.US))
STRAW = replace(bed(), covers=(Cover("straw", 0.05),), shade_cloth=0.5)


def soil_says():
    """A warm spring day's wave over a cooler depth, as sandy loam has it."""
    readings = FakeReadings()
    for depth_m, mean_c, wave_k in ((0.05, 19.0, 4.0), (0.12, 18.0, 2.0), (0.20, 17.0, 1.0)):

        def value(at_ms, mean_c=mean_c, wave_k=wave_k):
            return mean_c + wave_k * float(np.sin(2 * np.pi * at_ms / DAY_MS))

        readings.say(probe(T, depth_m), value, *every(HOUR_MS // 2, NOW_MS - 6 * DAY_MS, NOW_MS))
    return readings


def ahead(of=STRAW, marks=()):
    readings = soil_says()
    series = {one.id: readings.series(one.id, 0, 2**62) for one in of.probes}
    site = Forecaster(garden(of), readings).site
    return {(one.change, one.amount): one for one in what_ifs_ahead(of, series, marks, Weather(), site, NOW_MS)}, series, site


def later_k(found, change, amount):
    return float(found[change, amount].mean_k[95])


def test_each_change_goes_the_way_that_physics_says():
    found, _, _ = ahead()
    assert later_k(found, Change.CLOTH, 0.7) < later_k(found, Change.CLOTH, 0.3) < 0.0
    assert later_k(found, Change.COVER, 0.10) < later_k(found, Change.COVER, 0.05) < 0.0
    assert later_k(found, Change.BARE, 0.0) > 0.0
    assert later_k(found, Change.DEPTH, 0.20) < later_k(found, Change.DEPTH, 0.05)


def test_a_cloth_does_what_the_heat_flow_model_says_and_its_mean_begins_with_what_was():
    found, series, site = ahead()
    today = bed_today(STRAW, series, Weather(), site, NOW_MS)
    assert found[Change.CLOTH, 0.5].cloves_k == pytest.approx(difference_k(today, Cloth(0.5), 0.12))
    half = found[Change.CLOTH, 0.5]
    assert half.mean_k[11] == pytest.approx(half.cloves_k[:12].sum() / 24.0)
    assert half.mean_k[60] == pytest.approx(half.cloves_k[37:61].mean())


def test_another_depth_was_another_depth_all_along():
    found, _, _ = ahead()
    deep = found[Change.DEPTH, 0.20]
    assert deep.mean_k[11] == pytest.approx(deep.cloves_k[:12].mean())
    assert (Change.DEPTH, 0.12) not in found  # where the cloves lie already


def test_under_a_cloth_that_lies_it_may_be_taken_off():
    marks = [DoneMark("terrace", Job.SHADE, NOW_MS - 10 * DAY_MS)]
    found, _, _ = ahead(marks=marks)
    assert later_k(found, Change.CLOTH, 0.0) > 0.0
    assert (Change.CLOTH, 0.5) not in found
    assert later_k(found, Change.CLOTH, 0.7) < 0.0


def test_a_bed_with_no_planting_has_nothing_to_tell():
    assert ahead(replace(STRAW, plantings=()))[0] == {}


def test_they_are_kept_as_they_are():
    found, _, _ = ahead()
    kept = from_plain(to_plain(Outlook("terrace", NOW_MS, None, None, what_ifs=tuple(found.values()))))
    assert [(one.change, one.amount) for one in kept.what_ifs] == list(found)
    assert kept.what_ifs[0].mean_k == pytest.approx(next(iter(found.values())).mean_k, rel=1e-4)


# ---------------------------------------------------------------- in words


def seen(**changes):
    found, _, _ = ahead()
    looked = replace(outlook(18.4, lambda hour: 8.0 + hour / 24.0), what_ifs=tuple(found.values()))
    return state(replace(STRAW, **changes), FakeReadings(), NOW_MS, looked)


def test_the_view_tells_things_as_they_are_and_each_change_against_them():
    view = what_if_view(seen(), METRIC)
    assert view.headline == "If nothing is changed the cloves average up to 18.4 °C in the next four days; your limit is 18 °C."
    told = {one.name: one for one in view.changes}
    cloth = told["A 50 % cloth"]
    assert cloth.sentence.startswith("The cloves would average up to 18.")
    assert cloth.sentence.endswith("cooler. It takes 50 % of the leaves' light.")
    assert {"A 30 % cloth", "A 70 % cloth", "5 cm more cover", "10 cm more cover", "No cover at all", "Cloves at 20 cm"} <= set(
        told
    )
    assert cloth.mean_c[-1] < view.mean_c[-1]
    assert len({one.key for one in view.changes}) == len(view.changes)


def test_a_watering_says_when_the_roots_would_run_short_then():
    told = {one.name: one.sentence for one in what_if_view(seen(), METRIC).changes}
    # 8 mm are lacking now, 1 mm more each day, and the line is at 10.8 mm: three days; after 10 mm more than a week.
    assert told["A watering of 72 litres"].startswith("The roots would not run short in the coming week; without it, Thursday")


def test_us_units_are_kept_to():
    view = what_if_view(seen(), US)
    assert "64.4 °F" in view.headline
    assert all("°C" not in one.sentence and " cm" not in one.name for one in view.changes)


def test_whoever_plants_is_told_of_other_depths_and_covers():
    lines = planting_words(seen().outlook, METRIC)
    assert any(
        line.startswith("Cloves at 20 cm: ") and line.endswith("where the cloves lie, over the coming week.") for line in lines
    )
    assert not any("cloth" in line or "watering" in line for line in lines)
    assert "not known" in planting_words(None, METRIC)[0]


def test_nothing_foreseen_is_nothing_to_show():
    assert what_if_view(state(STRAW, FakeReadings(), NOW_MS, outlook(18.4)), METRIC) is None
    assert what_if_view(state(STRAW, FakeReadings(), NOW_MS), METRIC) is None
