"""Each rule of the season walked through what may come: what it calls, and when the phone is told ("!")."""

from dataclasses import replace

import pytest

from collector.advice.season.state import AfterState, ClothState, Feeding, FeedState, TroubleState
from collector.advice.state import WaterState
from collector.calls import Evidence, Job
from collector.crop.chilling import DAY_S, ChillStand
from collector.crop.curing import Cured, CureStand
from collector.crop.disease import Fit, RustWeather, WhiteRotSoil
from collector.crop.feed_plan import nitrogen_stand
from collector.crop.method import USUAL
from collector.crop.mildew import MildewWeather
from collector.crop.observed import Look, Mover, Stage
from collector.crop.ripening import LiftWindow, lift_signs
from collector.crop.stage import Reason, StageNow
from collector.journal import Deed, Entry
from collector.model import Feed
from tests.collector.advice.season.seasons import TODAY, planting_state, season_state
from tests.collector.advice.season.walk import DAY_MS, Walk, later
from tests.fakes import NOW_MS
from tests.fakes_advice import outlook

DRY = WaterState(depletion_mm=9.0, taw_mm=36.0, raw_mm=10.8, p=0.3, root_depth_m=0.3)
MOIST = replace(DRY, depletion_mm=3.0)


def stage(at: Stage, **changes):
    return season_state(planting_state(at), **changes)


# ---------------------------------------------------------------- planting


def cloves(gathered_d=60.0, soil_c=14.0, cool_day=None, gap_s=0.0, ahead_d=5, **changes):
    chill = ChillStand(gathered_d * DAY_S, 56 * DAY_S, gap_s)
    return season_state(
        planting_state(None, planted=later(TODAY, ahead_d), chill=chill, soil_c=soil_c, cool_day=cool_day), **changes
    )


def test_planting_waits_for_cold_cloves_then_for_cool_soil_and_then_is_due_once():
    walk = Walk(Job.PLANT)
    assert walk.to(cloves(40.0)) == "soon"
    assert walk.call.reason == "not chilled enough"
    assert walk.to(cloves()) == "soon"
    assert walk.call.reason == "soil is warm"
    assert walk.to(cloves(soil_c=12.0, cool_day=later(TODAY, 3))) == "soon"
    assert walk.to(cloves(soil_c=9.5, cool_day=TODAY)) == "due!"
    assert walk.to(cloves(soil_c=10.6)) == "due"  # a warmer day ends nothing
    assert walk.to(cloves(soil_c=14.0)) == "soon"
    assert walk.to(stage(Stage.PLANTED)) == "fine"


def test_cloves_about_to_go_into_warm_soil_are_worth_a_word():
    walk = Walk(Job.PLANT)
    assert walk.to(cloves(soil_c=20.0, ahead_d=4)) == "soon"
    assert walk.to(cloves(soil_c=20.0, ahead_d=3)) == "soon!"
    assert walk.to(cloves(soil_c=20.0, ahead_d=2)) == "soon"


def test_planting_far_ahead_is_no_matter_and_what_is_not_known_is_said():
    assert Walk(Job.PLANT).to(cloves(40.0, ahead_d=30)) == "fine"
    walk = Walk(Job.PLANT)
    assert walk.to(cloves(40.0, gap_s=DAY_S)) == "not known"
    assert walk.call.reason == "store not known"
    assert walk.to(cloves(soil_c=None)) == "not known"
    assert walk.call.reason == "soil not known"


# ---------------------------------------------------------------- looks


def test_a_look_is_asked_for_each_week_and_told_once_until_it_was_had():
    walk = Walk(Job.COUNT)
    week = {"leaf_count_every_d": 7}
    assert walk.to(stage(Stage.LEAVES, counted=later(TODAY, -3)), **week) == "fine"
    assert walk.to(stage(Stage.LEAVES, counted=later(TODAY, -7)), **week) == "soon!"
    assert walk.to(stage(Stage.LEAVES, counted=later(TODAY, -8)), **week) == "soon"
    assert walk.to(stage(Stage.LEAVES, counted=TODAY), **week) == "fine"
    assert walk.to(stage(Stage.LEAVES, counted=later(TODAY, -7)), **week) == "soon!"


def test_looks_can_be_switched_off_and_are_not_asked_for_before_anything_can_show():
    assert Walk(Job.COUNT).to(stage(Stage.LEAVES, counted=None), leaf_count_every_d=0) == "fine"
    planted = season_state(planting_state(Stage.PLANTED, planted=later(TODAY, -20)), counted=None)
    assert Walk(Job.COUNT).to(planted, leaf_count_every_d=7) == "fine"
    assert Walk(Job.COUNT).to(replace(planted, today=later(TODAY, 15)), leaf_count_every_d=7) == "soon"


def test_a_look_that_held_the_sums_back_is_asked_for_again_when_it_has_run_out():
    held = StageNow(Stage.LEAVES, (Reason(Stage.LEAVES, Mover.LEAF_COUNT, True),), (), None, look_again=TODAY)
    walk = Walk(Job.COUNT)
    assert walk.to(season_state(replace(planting_state(), stage=held)), leaf_count_every_d=30) == "soon!"
    assert walk.call.reason == "sums and look part"


# ---------------------------------------------------------------- feeding


def fed(next_day, dose=1.5, given=(), plan=4, at=Stage.LEAVES):
    days, fish = tuple(later(TODAY, 14 * turn) for turn in range(plan)), (Feed("Fish feed", 4.0),)
    return stage(at, feed=FeedState(days, given, next_day, nitrogen_stand(4.0, 2.0), dose, fish, None, None))


def test_a_feeding_comes_near_is_due_and_is_done():
    walk = Walk(Job.FEED)
    assert walk.to(fed(later(TODAY, 9))) == "fine"
    assert walk.to(fed(later(TODAY, 2)), of_state={"water": MOIST}) == "soon"
    assert walk.to(fed(TODAY), of_state={"water": MOIST}) == "due!"
    assert walk.call.reason == "planned"
    assert walk.to(fed(later(TODAY, -1)), of_state={"water": DRY}) == "due"
    assert walk.call.reason == "water first"
    assert walk.to(fed(later(TODAY, 14), given=(Feeding(TODAY, 1.5),))) == "fine"
    assert walk.to(fed(None, dose=None)) == "fine"


def test_a_bed_without_plan_or_target_is_not_fed_and_one_that_had_enough_no_more():
    bare = FeedState((TODAY,), (), TODAY, nitrogen_stand(0.0, 0.0), None, (), None, None)
    assert Walk(Job.FEED).to(season_state(feed=bare)) == "fine"
    assert Walk(Job.FEED).to(season_state(feed=bare), nitrogen_g_m2=5.0) == "due!"
    assert Walk(Job.FEED).to(fed(TODAY, dose=0.0)) == "fine"
    assert Walk(Job.FEED).to(season_state(planting_state(None))) == "fine"


def test_at_bulbing_the_feed_ends_once():
    walk = Walk(Job.NO_FEED)
    assert walk.to(stage(Stage.LEAVES), nitrogen_g_m2=5.0) == "fine"
    assert walk.to(stage(Stage.BULBING), nitrogen_g_m2=5.0) == "due!"
    assert walk.to(stage(Stage.BULBING), nitrogen_g_m2=5.0, done=True) == "done"
    stopped = Entry("terrace", Deed.FEEDING_STOPPED, NOW_MS, NOW_MS)
    assert walk.to(stage(Stage.BULBING, entries=(stopped,)), nitrogen_g_m2=5.0) == "fine"
    assert Walk(Job.NO_FEED).to(stage(Stage.BULBING)) == "fine"  # a bed that nobody feeds


# ---------------------------------------------------------------- cloth, scapes, water


def lying(at=Stage.LEAVES, days=5):
    return stage(at, cloth=ClothState(True, NOW_MS - days * DAY_MS))


def bare(peak_c):
    ahead = outlook(15.0)
    means_c = ahead.temperature.mean_c * 0.0 + peak_c
    return replace(ahead, temperature=replace(ahead.temperature, bare_mean_c=means_c))


def test_the_cloth_comes_off_when_the_days_ahead_are_cool_without_it_and_one_warm_forecast_does_not_end_that():
    walk = Walk(Job.UNSHADE)
    cool = {"clove_mean_c": 15.0}
    assert walk.to(lying(), outlook=bare(17.5), of_state=cool) == "fine"
    assert walk.to(lying(), outlook=bare(16.8), of_state=cool) == "due!"
    assert walk.to(lying(), outlook=bare(17.5), of_state=cool) == "due"
    assert walk.to(lying(), outlook=bare(18.1), of_state=cool) == "fine"
    assert walk.to(stage(Stage.LEAVES), outlook=bare(15.0), of_state=cool) == "fine"


def test_a_cloth_that_was_just_laid_stays_and_one_over_bulbing_plants_comes_off():
    assert Walk(Job.UNSHADE).to(lying(days=1), outlook=bare(15.0), of_state={"clove_mean_c": 15.0}) == "fine"
    walk = Walk(Job.UNSHADE)
    assert walk.to(lying(Stage.BULBING)) == "due!"
    assert walk.call.reason == "bulbing"
    assert Walk(Job.UNSHADE).to(lying(Stage.LIFTED)) == "due!"


def test_shade_is_asked_for_until_bulbing_in_every_planting_and_not_under_a_cloth_that_lies():
    warm = {"clove_mean_c": 18.6}
    both = (planting_state(Stage.BULBING), planting_state(Stage.LEAVES, "Rocambole"))
    for season, called in (
        (stage(Stage.LEAVES), "due!"),
        (stage(Stage.BULBING), "fine"),
        (season_state(*both), "due!"),
        (lying(), "fine"),
        (stage(Stage.LIFTED), "fine"),
        (season_state(planting_state(None)), "fine"),
    ):
        assert Walk(Job.SHADE).to(season, of_state=warm) == called


def test_days_since_planting_alone_do_not_let_the_soil_grow_warm():
    by_days = StageNow(Stage.RIPENING, (Reason(Stage.RIPENING, Mover.DAYS, True, 221.0),), ())
    old = season_state(replace(planting_state(), stage=by_days))
    assert Walk(Job.SHADE).to(old, of_state={"clove_mean_c": 18.6}) == "due!"


def test_scapes_are_cut_once_they_were_seen_in_hardnecks_only():
    seen = (Look(TODAY, scape=True, leaves=9),)
    walk = Walk(Job.SCAPES)
    assert walk.to(stage(Stage.BULBING)) == "fine"
    assert walk.to(season_state(planting_state(Stage.BULBING, looks=seen))) == "due!"
    assert walk.to(season_state(planting_state(Stage.BULBING, looks=seen, scapes_cut=TODAY))) == "fine"
    assert Walk(Job.SCAPES).to(season_state(planting_state(Stage.BULBING, kind="softneck", looks=seen))) == "fine"


def test_whether_the_cloth_may_come_off_is_not_known_without_an_outlook_or_the_cloves():
    cool = {"clove_mean_c": 15.0}
    for changes, reason in (
        ({"of_state": cool}, "no cloth is told"),
        ({"of_state": cool, "shade_cloth": 0.5}, "not foreseen"),
        ({"outlook": bare(15.0), "shade_cloth": 0.5}, "cloves not known"),
    ):
        walk = Walk(Job.UNSHADE)
        assert walk.to(lying(), **changes) == "not known"
        assert walk.call.reason == reason
    assert Walk(Job.UNSHADE).to(lying(), cool_limit_c=None, of_state=cool) == "fine"


def test_watering_of_a_crop_that_ripens_uncounted_is_not_known():
    walk = Walk(Job.DRY)
    assert walk.to(season_state(planting_state(Stage.RIPENING, looks=()))) == "not known"
    assert walk.call.reason == "not counted"
    assert walk.to(season_state(planting_state(Stage.BULBING, looks=()))) == "fine"
    assert walk.to(ripening(3)) == "due!"


def test_scapes_of_a_bed_that_is_late_to_be_lifted_are_left():
    late = Look(TODAY, leaves=10, browned=6, scape=True)
    assert Walk(Job.SCAPES).to(season_state(planting_state(Stage.RIPENING, looks=(late,), lift=lift_signs(late)))) == "fine"
    early = Look(TODAY, leaves=10, browned=1, scape=True)
    assert Walk(Job.SCAPES).to(season_state(planting_state(Stage.RIPENING, looks=(early,), lift=lift_signs(early)))) == "due!"


def ripening(browned, leaves=10, window=None, **changes):
    looks = (Look(TODAY, leaves=leaves, browned=browned),)
    known = {"looks": looks, "lift": lift_signs(looks[-1]), "window": window}
    return season_state(planting_state(Stage.RIPENING, **(known | changes)))


def window(in_d):
    first = later(TODAY, in_d)
    return LiftWindow(first, later(first, 10), later(first, -28), later(first, -14))


def test_watering_ends_by_brown_leaves_or_by_the_lift_that_is_foreseen():
    walk = Walk(Job.DRY)
    assert walk.to(ripening(1)) == "fine"
    assert walk.to(ripening(1, window=window(30))) == "fine"
    assert walk.to(ripening(1, window=window(25))) == "soon!"
    assert walk.to(ripening(2, window=window(14))) == "due!"
    assert walk.to(replace(ripening(3), watering_stopped=TODAY)) == "fine"
    assert Walk(Job.DRY).to(ripening(3)) == "due!"
    slow = season_state(*ripening(3).plantings, planting_state(Stage.LEAVES, "Rocambole"))
    assert Walk(Job.DRY).to(slow) == "fine"  # the slowest of a bed decides


def test_a_bed_that_is_kept_dry_or_lifted_or_not_planted_is_not_called_to_be_watered():
    dry = {"water": replace(DRY, depletion_mm=12.0)}
    assert Walk(Job.WATER).to(ripening(3), of_state=dry) == "due!"
    for season in (replace(ripening(3), watering_stopped=TODAY), stage(Stage.LIFTED), season_state(planting_state(None))):
        assert Walk(Job.WATER).to(season, of_state=dry) == "fine"


# ---------------------------------------------------------------- lift and after


def test_the_lift_opens_grows_late_and_is_not_known_where_nobody_counts():
    walk = Walk(Job.LIFT)
    assert walk.to(ripening(2)) == "fine"
    assert walk.to(ripening(3)) == "soon!"
    assert walk.to(ripening(6)) == "due!"
    assert walk.to(stage(Stage.LIFTED)) == "fine"
    assert Walk(Job.LIFT).to(ripening(None, leaves=None)) == "not known"
    assert Walk(Job.LIFT).to(replace(ripening(1), today=later(TODAY, 11))) == "not known"


def test_lifting_one_variety_answers_for_no_other():
    early = ripening(4).plantings[0]
    late = planting_state(Stage.BULBING, "Rocambole")
    walk = Walk(Job.LIFT)
    assert walk.to(season_state(early, late)) == "soon!"
    gone = replace(early, in_ground=False, lifted=TODAY)
    assert walk.to(season_state(gone, late), done=True, days=5) == "done"
    assert walk.to(season_state(gone, late)) == "fine"
    ripe = replace(ripening(6).plantings[0], planting=late.planting)
    assert walk.to(season_state(gone, ripe)) == "due!"
    assert walk.call.about == "Rocambole"


def after(hung_d, cure=None, cured=None, stored=None, lately=None, **more):
    of = AfterState(NOW_MS - round(hung_d * DAY_MS), hung_d, cure, None, cured, stored, lately)
    return stage(Stage.LIFTED, after=of, **more)


def day(hot_h=0.0, damp_h=0.0, gap_h=0.0):
    """The last day of a cure."""
    return CureStand(1.0, hot_h, damp_h, 0.0, gap_h, Cured.NOT_YET)


def test_a_cure_that_is_too_hot_or_damp_is_told_and_its_end_suggested():
    walk = Walk(Job.CURE)
    hangs = CureStand(5.0, 30.0, 2.0, 5.0, 0.0, Cured.NOT_YET)
    assert walk.to(after(2, hangs, lately=day(1.0))) == "fine"
    assert walk.to(after(5, hangs, lately=day(6.0))) == "soon!"
    assert walk.call.reason == "too hot"
    assert walk.to(after(6, hangs, lately=day(3.0))) == "soon"  # half as many hours keep it
    assert walk.to(after(7, hangs, lately=day(1.0))) == "fine"
    assert walk.to(after(21, hangs, lately=day(24.0))) == "soon!"  # however well the weeks before went
    assert walk.to(after(22, hangs, lately=day(0.0, 7.0))) == "soon"
    assert walk.call.reason == "too damp"
    assert walk.to(after(23, hangs, lately=day(gap_h=20.0))) == "not known"
    assert Walk(Job.CURE).to(after(23, hangs, lately=day(0.0, 8.0))) == "fine"  # nights are damp anywhere
    warm = CureStand(12.0, 30.0, 2.0, 250.0, 0.0, Cured.BY_WARMTH)
    assert walk.to(after(24, warm, lately=day())) == "due!"
    assert walk.to(after(25, cured=TODAY)) == "fine"
    assert Walk(Job.CURE).to(after(20)) == "not known"
    assert Walk(Job.CURE).to(after(28)) == "due!"
    assert Walk(Job.CURE).to(stage(Stage.LEAVES)) == "fine"


def test_cured_bulbs_are_to_be_stored_once():
    walk = Walk(Job.STORE)
    assert walk.to(after(20)) == "fine"
    assert walk.to(after(30, cured=TODAY)) == "due!"
    assert walk.to(after(31, cured=TODAY, stored=TODAY)) == "fine"


# ---------------------------------------------------------------- disease


def troubled(inspected_ms=None, at=Stage.LEAVES, **known):
    return stage(at, trouble=TroubleState(**({"rust": None, "mildew": None, "rot": None} | known), inspected_ms=inspected_ms))


def test_rust_is_looked_for_from_when_it_could_show_until_somebody_looked():
    def rust(fit, shows_d):
        return RustWeather(
            1, 6.0, 4.0, 9.0, 0.0, fit, () if shows_d is None else (NOW_MS + shows_d * DAY_MS, NOW_MS + (shows_d + 8) * DAY_MS)
        )

    walk = Walk(Job.RUST)
    assert walk.to(troubled(rust=rust(Fit.NO, None))) == "fine"
    assert walk.to(troubled(rust=rust(Fit.PERHAPS, None))) == "soon"  # on the page, and not on the phone
    assert walk.to(troubled(rust=rust(Fit.PERHAPS, None), inspected_ms=NOW_MS)) == "fine"
    assert walk.to(troubled(rust=rust(Fit.YES, 9))) == "fine"
    assert walk.to(troubled(rust=rust(Fit.YES, 3))) == "soon!"
    assert walk.to(troubled(rust=rust(Fit.YES, 3), inspected_ms=NOW_MS)) == "soon"  # too early a look shows nothing
    assert walk.to(troubled(rust=rust(Fit.YES, 3), inspected_ms=NOW_MS + 4 * DAY_MS)) == "fine"
    assert walk.to(troubled(rust=rust(Fit.YES, 5), inspected_ms=NOW_MS + 4 * DAY_MS)) == "soon"  # the phone was told lately
    assert walk.call.numbers["shows_ms"] == NOW_MS + 5 * DAY_MS
    assert walk.to(troubled(rust=rust(Fit.YES, -4), inspected_ms=NOW_MS + DAY_MS)) == "soon"  # the second, after the look
    assert Walk(Job.RUST).to(troubled(at=Stage.LIFTED, rust=rust(Fit.YES, -1))) == "fine"
    blind = Walk(Job.RUST)
    assert blind.to(troubled()) == "not known"
    assert blind.call.reason == "no probe"


def test_mildew_is_looked_for_in_its_days():
    def humid(fit, first_d):
        return MildewWeather(
            (), 4.0, 0.0, fit, None if first_d is None else (NOW_MS + first_d * DAY_MS, NOW_MS + (first_d + 6) * DAY_MS)
        )

    walk = Walk(Job.MILDEW)
    assert walk.to(troubled(mildew=humid(Fit.NO, None))) == "fine"
    assert walk.to(troubled(mildew=humid(Fit.PERHAPS, 0))) == "soon"
    assert walk.to(troubled(mildew=humid(Fit.PERHAPS, 0), inspected_ms=NOW_MS)) == "fine"
    assert walk.to(troubled(mildew=humid(Fit.YES, 5))) == "fine"
    assert walk.to(troubled(mildew=humid(Fit.YES, 3))) == "soon!"
    assert walk.to(troubled(mildew=humid(Fit.YES, 3), inspected_ms=NOW_MS + 3 * DAY_MS)) == "fine"
    assert Walk(Job.MILDEW).to(troubled()) == "not known"


def test_white_rot_is_looked_for_only_where_it_was_and_in_soil_that_it_likes():
    def rot(best_h):
        return WhiteRotSoil(150.0, best_h, 0.0, 0.0, 17.0, Fit.YES)

    walk = Walk(Job.ROT)
    assert walk.to(troubled(rot=rot(60.0)), white_rot=True) == "fine"
    assert walk.to(troubled(rot=rot(90.0)), white_rot=True) == "soon!"
    assert walk.to(troubled(rot=rot(60.0)), white_rot=True) == "soon"
    assert walk.to(troubled(rot=rot(30.0)), white_rot=True) == "fine"
    assert Walk(Job.ROT).to(troubled(rot=rot(160.0))) == "fine"
    assert Walk(Job.ROT).to(troubled(), white_rot=True) == "not known"


def test_what_gaps_may_hide_is_not_known_and_never_fine():
    rust = RustWeather(0, 2.0, 0.0, 2.0, 100.0, Fit.NOT_KNOWN, ())
    mildew, rot = MildewWeather((), 0.0, 0.0, Fit.NOT_KNOWN, None), WhiteRotSoil(0.0, 0.0, 0.0, 160.0, 15.0, Fit.NOT_KNOWN)
    for job, known in ((Job.RUST, {"rust": rust}), (Job.MILDEW, {"mildew": mildew}), (Job.ROT, {"rot": rot})):
        walk = Walk(job)
        assert walk.to(troubled(**known), white_rot=True) == "not known"
        assert walk.call.reason == "gaps"


# ---------------------------------------------------------------- evidence


@pytest.mark.parametrize(
    ("job", "own", "season"),
    [
        (Job.DRY, {"look_browned": 2.0}, ripening(2)),
        (Job.FEED, {"feed_feedings": 3.0}, fed(TODAY)),
        (Job.RUST, {"rust_humid_pct": 90.0}, troubled(rust=RustWeather(1, 6.0, 4.0, 9.0, 0.0, Fit.YES, (NOW_MS - DAY_MS,)))),
    ],
)
def test_a_call_by_the_growers_own_number_says_so(job, own, season):
    walk = Walk(job)
    assert walk.to(replace(season, method=USUAL.with_own(own))).startswith(("due", "soon"))
    assert walk.call.evidence is Evidence.OWN
