"""The calls of the season in a grower's words, metric and US."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from collector.advice.season.state import AfterState, FeedState
from collector.advice.voice import Voice
from collector.advice.wording import fine_sentence, message, word, worth_showing
from collector.calls import Job
from collector.crop.curing import Cured, CureStand, store_stand
from collector.crop.disease import Fit, RustWeather, WhiteRotSoil
from collector.crop.feed_plan import nitrogen_stand
from collector.crop.mildew import MildewWeather
from collector.crop.observed import Look, Stage
from collector.journal import Deed
from collector.model import Feed, Injector, Planting
from collector.units import UnitSystem
from tests.collector.advice.season.seasons import PLANTED, TODAY, planting_state, season_state
from tests.collector.advice.season.test_sequences import DRY, MOIST, after, bare, cloves, day, lying, ripening, troubled, window
from tests.collector.advice.season.walk import DAY_MS, Walk, bed_state, later
from tests.fakes import NOW_MS

ZONE = ZoneInfo("Europe/Lisbon")
METRIC, US = Voice(UnitSystem.METRIC, ZONE), Voice(UnitSystem.US, ZONE)


def worded(job, season=None, voice=METRIC, **changes):
    walk = Walk(job)
    walk.to(season, **changes)
    return word(walk.call, bed_state(season, **changes), voice)


def test_planting_tells_cold_soil_and_where_the_sources_part():
    due = worded(Job.PLANT, cloves(soil_c=9.5, cool_day=TODAY))
    assert due.heading == "Plant the cloves"
    assert due.sentence == "The cloves are chilled, and the soil at 12 cm averages 9.5 °C."
    assert "In the cold, 0 °C to 10 °C: 60 days so far; a hardneck wants 56." in due.why
    assert due.button == "Planted"
    assert worded(Job.PLANT, cloves(40.0)).sentence == "The cloves lack 16 days of cold."
    soon = worded(Job.PLANT, cloves(soil_c=12.0, cool_day=later(TODAY, 2)), US)
    assert soon.sentence == "The soil at 4.5 in averages 53.6 °F and is foreseen at 50 °F or less from Thursday on."
    frozen = replace(cloves().plantings[0], planting=Planting("Porcelain", 0.12, PLANTED, "hardneck", 60, 60.0, 2.0))
    assert any("Handbook 66 warns" in line and "the sources part" in line for line in worded(Job.PLANT, season_state(frozen)).why)


def test_a_look_says_what_is_worth_looking_at_now():
    week = {"leaf_count_every_d": 7}
    old = {"counted": later(TODAY, -9)}
    leaves = worded(Job.COUNT, season_state(planting_state(Stage.LEAVES), **old), **week)
    assert leaves.heading == "Look, and count the leaves"
    assert leaves.sentence == "The last count was 1 March. How many leaves does a usual plant have, the brown ones too?"
    assert (leaves.button, leaves.opens) == ("Write down a count", Deed.COUNTED)
    bulbing = worded(Job.COUNT, season_state(planting_state(Stage.BULBING), **old), **week).sentence
    assert "does the stem thicken" in bulbing
    assert "how many are there in all" in worded(Job.COUNT, season_state(planting_state(Stage.RIPENING), **old), **week).sentence


FISH = Feed("Fish feed", 4.0, 1.0, 3.0, 1.15)


SIPHON = Injector(16.0)


def feeding(injector=SIPHON):
    plan = tuple(later(TODAY, 14 * turn) for turn in range(4))
    state = FeedState(plan, (), TODAY, nitrogen_stand(4.0, 0.0), 1.5, (FISH,), injector, 10.0)
    return season_state(planting_state(Stage.LEAVES), feed=state)


def test_a_feeding_tells_dose_product_tank_both_readings_of_the_injector_and_its_cautions():
    due = worded(Job.FEED, feeding(), of_state={"water": MOIST})
    assert due.heading == "Feed"
    assert due.sentence == "Feeding 1 of 4: 1.5 g/m² of nitrogen. Into moist soil."
    assert due.why[0] == "That is 11 g of nitrogen for the bed."  # 1.5 g/m² on 7.2 m² are 10.8 g
    assert due.why[1] == "Fish feed (4-1-3): 270 g, or 235 mL, in all."  # 10.8 g / 0.04; / 1.15 kg/L
    assert due.why[2].startswith("Fish feed, in 10 L of concentrate, drawn at 1 part in 16 of mix: 160 L of feed")
    assert due.why[3].startswith("Fish feed, in 10 L of concentrate, drawn at 1 part to 16 of water: 170 L of feed")
    for caution in ("backflow", "pesticide", "label"):
        assert caution in due.caution.lower()
        assert any(caution in line.lower() for line in due.why[-3:])  # and in full
    assert due.opens is Deed.FED


def test_a_feeding_in_us_units_and_into_dry_soil_and_without_an_injector():
    dry = worded(Job.FEED, feeding(None), US, of_state={"water": DRY})
    assert dry.heading == "Water, then feed"
    assert dry.sentence == "Feeding 1 of 4: 13 lb/acre of nitrogen. The soil is dry: water first, then feed, never into dry soil."
    assert dry.why[1] == "Fish feed (4-1-3): 9.5 oz, or 7.9 fl oz, in all."
    assert dry.why[2] == "Fish feed, in 2.6 gal of water: that feed holds 1080 mg of nitrogen a litre."


def test_no_more_feed_says_by_what_and_that_sources_part():
    seen = worded(Job.NO_FEED, season_state(planting_state(Stage.BULBING)), nitrogen_g_m2=5.0)
    assert seen.heading == "Feed no more"
    assert seen.sentence.startswith("You saw that the crop bulbs.")
    assert "Oregon State" in seen.source


def test_taking_the_cloth_off_tells_the_light_it_costs():
    off = worded(Job.UNSHADE, lying(), outlook=bare(16.4), of_state={"clove_mean_c": 15.0}, shade_cloth=0.5)
    assert off.heading == "Take the 50 % cloth off"
    assert off.sentence == (
        "Without it the cloves would average up to 16.4 °C in the next four days; your limit is 18 °C. "
        "It takes 50 % of the leaves' light."
    )
    assert worded(Job.UNSHADE, lying(Stage.BULBING)).sentence.startswith("Bulbing has begun")
    assert worded(Job.UNSHADE, lying(Stage.BULBING)).heading == "Take the shade cloth off"


def test_under_a_cloth_that_lies_a_warm_bed_is_told_what_would_help():
    walk, seen = Walk(Job.SHADE), {"clove_mean_c": 18.6}
    walk.to(lying(), of_state=seen)
    from collector.advice.job_words import brief

    told = brief(walk.call, bed_state(lying(), of_state=seen), METRIC)
    assert told == "Still the cloves averaged 18.6 °C over the last 24 hours; your limit is 18 °C. Thicker mulch would help."


def test_water_no_more_names_the_day_of_the_lift_and_that_sources_part():
    soon = worded(Job.DRY, ripening(1, window=window(25)))
    assert soon.heading == "Water less, and stop before long"
    assert (
        soon.sentence == "By your last counts the bed may be lifted from 4 April. Sources stop two to four weeks before the lift."
    )
    due = worded(Job.DRY, ripening(3))
    assert due.sentence.startswith("3 leaves are brown")


def test_scapes_and_varieties():
    porcelain = planting_state(Stage.BULBING, looks=(Look(TODAY, scape=True),))
    only = worded(Job.SCAPES, season_state(porcelain, planting_state(Stage.BULBING, "Linen", "softneck")))
    assert only.heading == "Cut the scapes of Porcelain"
    assert "begin to curl" in only.sentence


def test_the_lift_answers_each_sign_for_itself():
    open_ = worded(Job.LIFT, ripening(4, leaves=11))
    assert open_.heading == "Cut a test bulb of the bed"
    assert open_.sentence.startswith("4 of 11 leaves are brown.")
    assert open_.why == (
        "3 leaves brown or more (UNH Extension 2017): yes.",
        "5 leaves brown (Kansas extension): not yet.",
        "33 % of the leaves brown (growers' pages, weak): yes.",
    )
    assert (open_.opens, open_.button) == (Deed.LIFTED, "Lifted")
    late = worded(Job.LIFT, ripening(6))
    assert late.heading == "Lift the bed"
    unknown = worded(Job.LIFT, ripening(None, leaves=None))
    assert (unknown.heading, unknown.opens) == ("Lift: not known", Deed.COUNTED)


def test_cure_and_store_with_the_caution_of_garlic_in_oil():
    hot = worded(Job.CURE, after(5, CureStand(5.0, 30.0, 2.0, 5.0, 0.0, Cured.NOT_YET), lately=day(6.0)), US)
    assert hot.sentence == "Where they hang it was above 89.6 °F for 6 of the last 24 hours: open it, or shade it."
    assert worded(Job.CURE, after(29)).sentence.startswith("They hang for 29 days. Necks dry")
    hangs = AfterState(NOW_MS - 30 * DAY_MS, 30.0, None, store_stand(12.0, 60.0), TODAY, None)
    store = worded(Job.STORE, season_state(planting_state(Stage.LIFTED), after=hangs))
    assert "sprouts fastest" in store.sentence
    assert "botulism" in store.caution
    assert store.why[0].startswith("At -1 °C to 0 °C and no more than 70 % humidity: more than 9 months (UC Davis")


def test_disease_weather_never_says_that_the_disease_is_there():
    rust = RustWeather(2, 7.0, 4.0, 30.0, 0.0, Fit.YES, (NOW_MS - DAY_MS,))
    mildew = MildewWeather((), 4.0, 0.0, Fit.YES, (NOW_MS - DAY_MS, NOW_MS + 5 * DAY_MS))
    for job, known in ((Job.RUST, {"rust": rust}), (Job.MILDEW, {"mildew": mildew})):
        call = worded(job, troubled(**known))
        assert call.sentence.endswith("That it was its weather does not say that it is there.")
        assert call.would_change.endswith("label and local advice.")
    told = worded(Job.RUST, troubled(rust=rust))
    assert told.why[1].endswith("30 hours. The two do not agree.")
    rot = worded(Job.ROT, troubled(rot=WhiteRotSoil(150.0, 100.0, 0.0, 0.0, 17.0, Fit.YES)), white_rot=True)
    assert "100 hours at 15.6 °C to 18.3 °C" in rot.sentence


EVERY = {
    Job.PLANT: (cloves(soil_c=9.5, cool_day=TODAY), {}),
    Job.COUNT: (season_state(counted=None), {"leaf_count_every_d": 7}),
    Job.FEED: (feeding(), {}),
    Job.NO_FEED: (season_state(planting_state(Stage.BULBING)), {"nitrogen_g_m2": 5.0}),
    Job.UNSHADE: (lying(Stage.BULBING), {"shade_cloth": 0.5}),
    Job.DRY: (ripening(3), {}),
    Job.SCAPES: (season_state(planting_state(Stage.BULBING, looks=(Look(TODAY, scape=True),))), {}),
    Job.LIFT: (ripening(4), {}),
    Job.CURE: (after(29), {}),
    Job.STORE: (season_state(planting_state(Stage.LIFTED), after=replace(after(29).after, cured=TODAY)), {}),
    Job.RUST: (troubled(rust=RustWeather(2, 7.0, 4.0, 30.0, 0.0, Fit.YES, (NOW_MS - DAY_MS,))), {}),
    Job.MILDEW: (troubled(mildew=MildewWeather((), 4.0, 0.0, Fit.YES, (NOW_MS - DAY_MS, NOW_MS))), {}),
    Job.ROT: (troubled(rot=WhiteRotSoil(150.0, 100.0, 0.0, 0.0, 17.0, Fit.YES)), {"white_rot": True}),
}


@pytest.mark.parametrize("job", EVERY, ids=str)
@pytest.mark.parametrize("voice", [METRIC, US], ids=["metric", "us"])
def test_every_call_has_all_its_parts_in_whole_sentences(job, voice):
    season, changes = EVERY[job]
    call = worded(job, season, voice, **changes)
    for sentence in (call.sentence, call.rule, call.source, call.would_change, *call.why):
        assert sentence, job
        assert sentence == sentence.strip()
        assert sentence[-1] in ".?!", sentence
        assert "  " not in sentence
        assert "nan" not in sentence.lower().split()
    title, text = message(call, bed_state(season, **changes))
    assert title.startswith("Terrace bed: ")
    assert text.startswith(call.sentence)
    foreign = (" °C", " cm", " g/m²", " mL") if voice is US and job is not Job.PLANT else ()
    assert not any(unit in f"{call.heading} {call.sentence}" for unit in foreign)


def test_a_mass_a_volume_and_a_dose_in_both_systems():
    assert (METRIC.mass(6.0), METRIC.mass(66.7), METRIC.mass(1200.0)) == ("6 g", "67 g", "1.2 kg")
    assert (US.mass(66.7), US.mass(510.3)) == ("2.4 oz", "1.1 lb")  # 18 oz
    assert (METRIC.volume(55.6), US.volume(55.6)) == ("56 mL", "1.9 fl oz")
    assert (METRIC.nitrogen(5.604), US.nitrogen(5.604)) == ("5.6 g/m²", "50 lb/acre")  # Cornell's 50 lb/acre, 0.11208 g/m² each
    assert METRIC.date(dt.date(2026, 3, 12), TODAY) == "Thursday"


def test_what_gaps_may_hide_is_said_and_stands_behind_what_is_to_be_done():
    hidden = troubled(rust=RustWeather(0, 2.0, 0.0, 2.0, 100.0, Fit.NOT_KNOWN, ()))
    told = worded(Job.RUST, hidden)
    assert (told.heading, told.button) == ("Rust: not known", None)
    assert told.sentence.endswith("the gaps could hide what rust likes.")
    look = Walk(Job.COUNT)
    look.to(season_state(counted=None), leaf_count_every_d=7)
    assert [call.job for call in worth_showing([told.call, look.call])] == [Job.COUNT, Job.RUST]


def test_a_bed_that_only_wants_a_look_is_fine_for_all_that():
    week = {"leaf_count_every_d": 7, "of_state": {"water": MOIST}}
    walk = Walk(Job.COUNT)
    walk.to(season_state(counted=None), **week)
    water = Walk(Job.WATER)
    water.to(season_state(counted=None), **week)
    told = fine_sentence([walk.call, water.call], bed_state(season_state(counted=None), **week), METRIC)
    assert told.startswith("Fine. The root zone is ")
