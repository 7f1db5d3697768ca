"""A season put together from the garden file, the journal and months of readings."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from collector.advice.season.built import DAY_MS, locale_of, season_of
from collector.advice.season.record import HOUR_MS, Course, Record, start_of, together
from collector.crop.disease import Fit
from collector.crop.heat_sum import heat_sum
from collector.crop.observed import Mover, Stage
from collector.crop.ripening import Lift
from collector.journal import Deed, Entry
from collector.model import Feed, Planting
from tests.fakes_advice import bed, garden

LISBON = ZoneInfo("Europe/Lisbon")
PLANTED = dt.date(2025, 10, 20)
CLOVES = Planting("Porcelain", 0.12, PLANTED, "hardneck", 60, 60.0, 5.0)
BED = replace(bed(), plantings=(CLOVES,), nitrogen_g_m2=6.0)


def on(day: dt.date, hour: float = 12.0) -> int:
    return start_of(day, LISBON) + round(hour * HOUR_MS)


def said(day: dt.date, deed: Deed, what: str | None = None, variety: str | None = None, **amounts: float) -> Entry:
    return Entry("terrace", deed, on(day, 9), on(day, 9), variety, what, amounts)


def steady(value: float, from_day: dt.date, to_day: dt.date) -> Course:
    """The same value in each hour of some days."""
    time_ms = np.arange(on(from_day, 0.5), on(to_day, 0), HOUR_MS, dtype=np.int64)
    return Course(time_ms, np.full(time_ms.size, value))


def season(day: dt.date, *entries: Entry, record: Record | None = None, of=BED, **more):
    whole = garden(of, **more)
    return season_of(of, whole, locale_of(whole), record or Record(), entries, on(day))


def days(count: int) -> dt.timedelta:
    return dt.timedelta(days=count)


# ---------------------------------------------------------------- chill, heat, stage


def test_before_planting_the_days_in_the_store_so_far_count_by_what_the_file_says():
    (one,) = season(PLANTED - days(10)).plantings
    assert (one.in_ground, one.stage) == (False, None)
    assert one.chill.gathered_s / 86_400 == pytest.approx(50.5, abs=0.1)
    assert one.chill.wanted_s / 86_400 == 56


def test_a_probe_in_the_store_goes_before_what_the_file_says():
    warm = Record(store_c=steady(14.0, PLANTED - days(61), PLANTED))
    (one,) = season(PLANTED - days(10), record=warm).plantings
    assert one.chill.gathered_s == 0.0


def test_cold_soil_goes_on_chilling_and_silence_is_a_gap():
    soil = Record(cloves_c={0.12: steady(8.0, PLANTED, PLANTED + days(5))})
    (one,) = season(PLANTED + days(5), record=soil).plantings
    assert one.chill.gathered_s / 86_400 == pytest.approx(65.0, abs=0.1)
    assert one.chill.gap_s / 86_400 == pytest.approx(0.5, abs=0.1)  # from midnight to noon


def test_the_heat_sum_is_that_of_the_crop_and_its_pace_tells_when_it_will_be_enough():
    air = steady(14.0, PLANTED, dt.date(2025, 12, 29))  # 70 days of 10 K over the base
    (one,) = season(dt.date(2025, 12, 29), record=Record(air_c=air)).plantings
    direct = heat_sum(air.time_ms, air.value, on(PLANTED, 0), on(dt.date(2025, 12, 29)))
    assert one.heat == direct
    assert one.heat.sum_k_d == pytest.approx(700.0, abs=1.0)
    assert one.heat_per_day_k_d == pytest.approx(10.0)
    assert one.leaves_by_heat == PLANTED + days(57)  # 580 K d, 10 K a day, from the first hour on
    assert one.stage.stage is Stage.LEAVES
    # 1195 K d would be there 50 days on, but the days are long enough only in spring.
    assert one.bulbing_expected == one.long_day > dt.date(2026, 4, 1)


def test_without_air_the_stage_is_told_by_the_days_and_the_growers_looks():
    (one,) = season(dt.date(2026, 3, 1), said(dt.date(2026, 2, 1), Deed.COUNTED, leaves=5)).plantings
    assert (one.heat, one.heat_per_day_k_d, one.leaves_by_heat) == (None, None, None)
    assert one.stage.stage is Stage.LEAVES
    assert [reason.mover for reason in one.stage.moved_by] == [Mover.LEAF_COUNT]


def test_looks_of_another_variety_or_another_season_tell_nothing_of_this_one():
    other = replace(CLOVES, variety="Rocambole")
    entries = (
        said(dt.date(2025, 6, 1), Deed.LIFTED),
        said(dt.date(2026, 2, 1), Deed.COUNTED, leaves=5, variety="Rocambole"),
    )
    porcelain, rocambole = season(dt.date(2026, 3, 1), *entries, of=replace(BED, plantings=(CLOVES, other))).plantings
    assert (porcelain.lifted, porcelain.looks) == (None, ())
    assert rocambole.stage.stage is Stage.LEAVES


def test_what_cannot_be_seen_tells_nothing_though_it_was_kept():
    odd = said(dt.date(2026, 2, 1), Deed.COUNTED, leaves=3, browned=9)
    assert season(dt.date(2026, 3, 1), odd).plantings[0].looks == ()


def test_a_planting_of_another_year_is_at_no_stage_unless_somebody_looks():
    old = season(PLANTED + days(400)).plantings[0]
    assert (old.stage, old.in_ground) == (None, True)
    seen = season(PLANTED + days(400), said(PLANTED + days(395), Deed.COUNTED, leaves=8, browned=4)).plantings[0]
    assert seen.at is Stage.RIPENING


def test_a_planting_noted_later_than_planned_counts_from_then_on():
    (one,) = season(dt.date(2025, 11, 20), said(dt.date(2025, 11, 5), Deed.PLANTED)).plantings
    assert one.planted == dt.date(2025, 11, 5)


def test_the_soil_is_cool_enough_from_a_day_that_is_foreseen():
    today = PLANTED - days(5)
    ahead = Course(np.arange(on(today, 13), on(today + days(7), 12), HOUR_MS, dtype=np.int64), np.empty(0))
    hours = (ahead.time_ms - on(today)) / HOUR_MS
    ahead = Course(ahead.time_ms, 12.0 - hours / 24.0)  # 11 °C tomorrow, 10 °C the day after, and so on
    record = Record(cloves_c={0.12: steady(12.0, today - days(5), today)}, ahead_c=ahead)
    assert season(today, record=record).plantings[0].cool_day == today + days(2)
    assert season(today, record=replace(record, ahead_c=Course())).plantings[0].cool_day is None


# ---------------------------------------------------------------- feed, cloth, lift, after


def test_the_feed_plan_runs_from_leaves_to_before_bulbing_and_the_label_tells_the_nitrogen():
    leaves = said(dt.date(2026, 2, 1), Deed.COUNTED, leaves=4)
    fish = Feed("Fish feed", 4.0)
    now = season(dt.date(2026, 2, 2), leaves, feeds=(fish,)).feed
    assert len(now.plan) == 4
    assert now.plan[0] == now.next_day == dt.date(2026, 2, 1)
    assert now.plan[-1] == season(dt.date(2026, 2, 2), leaves).plantings[0].bulbing_expected - days(14)
    assert now.dose_g_m2 == pytest.approx(1.5)
    # 360 g of 4 % on 7.2 m² are 2 g/m²
    fed = season(
        dt.date(2026, 2, 12), leaves, said(dt.date(2026, 2, 10), Deed.FED, "Fish feed", product_g=360.0), feeds=(fish,)
    ).feed
    assert [one.n_g_m2 for one in fed.given] == pytest.approx([2.0])
    assert fed.stand.spring_g_m2 == pytest.approx(2.0)
    assert fed.next_day > dt.date(2026, 2, 23)
    assert fed.dose_g_m2 == pytest.approx(4.0 / 3.0)


def test_after_bulbing_has_begun_nothing_more_is_planned():
    entries = (said(dt.date(2026, 2, 1), Deed.COUNTED, leaves=4), said(dt.date(2026, 4, 2), Deed.COUNTED, stem_thickens=1))
    fed = season(dt.date(2026, 4, 3), *entries).feed
    assert (fed.next_day, fed.dose_g_m2) == (None, None)
    assert fed.plan[-1] <= dt.date(2026, 4, 2) - days(14)


def test_a_cloth_lies_from_when_it_was_laid_until_it_was_taken_off():
    laid, off = said(dt.date(2026, 3, 1), Deed.CLOTH_LAID), said(dt.date(2026, 3, 9), Deed.CLOTH_OFF)
    assert not season(dt.date(2026, 3, 10)).cloth.lies
    assert season(dt.date(2026, 3, 10), laid).cloth.since_ms == laid.at_ms
    assert not season(dt.date(2026, 3, 10), laid, off).cloth.lies


def test_browned_leaves_open_the_lift_and_two_counts_foresee_it():
    entries = [
        said(dt.date(2026, 5, 1), Deed.COUNTED, leaves=10, browned=1),
        said(dt.date(2026, 5, 11), Deed.COUNTED, leaves=10, browned=2),
    ]
    (one,) = season(dt.date(2026, 5, 12), *entries).plantings
    assert one.lift.lift is Lift.NOT_YET
    assert one.window.first == dt.date(2026, 5, 21)


def test_after_the_lift_the_curing_place_tells_how_the_cure_goes():
    lifted = said(dt.date(2026, 6, 1), Deed.LIFTED)
    shed = together(
        steady(24.0, dt.date(2026, 6, 1), dt.date(2026, 6, 12)), steady(80.0, dt.date(2026, 6, 1), dt.date(2026, 6, 12))
    )
    now = season(dt.date(2026, 6, 11), lifted, record=Record(curing=shed))
    assert now.growing == ()
    assert now.plantings[0].stage.stage is Stage.LIFTED
    assert now.after.hung_d == pytest.approx(10.125)
    assert now.after.cure.damp_h == pytest.approx(243.0, abs=1.0)
    assert now.after.store.too_damp
    assert season(dt.date(2026, 6, 11), lifted).after.cure is None
    assert season(dt.date(2026, 5, 11)).after is None


# ---------------------------------------------------------------- disease


def test_disease_is_not_judged_without_a_humidity_probe_and_rust_is_where_it_is_damp_and_mild():
    day = dt.date(2026, 3, 20)
    mild, damp = steady(16.0, day - days(17), day + days(1)), steady(98.0, day - days(17), day + days(1))
    assert season(day, record=Record(air=together(mild, Course()))).trouble.rust is None
    trouble = season(day, said(day - days(1), Deed.INSPECTED), record=Record(air=together(mild, damp))).trouble
    assert trouble.rust.fit is Fit.YES
    assert trouble.mildew is not None
    assert trouble.inspected_ms == on(day - days(1), 9)


def test_white_rot_is_told_of_only_in_a_bed_that_had_it():
    day = dt.date(2026, 3, 20)
    soil = Record(cloves_c={0.12: steady(17.0, day - days(9), day + days(1))})
    assert season(day, record=soil).trouble.rot is None
    rot = season(day, record=soil, of=replace(BED, white_rot=True)).trouble.rot
    assert rot.best_h == pytest.approx(7 * 24, abs=0.6)


def test_the_growers_own_limits_and_daylength_are_gone_by():
    own = season(dt.date(2026, 3, 1), limits={"day_bulbing_h": 12.0}, daylength="civil")
    assert own.plantings[0].long_day < season(dt.date(2026, 3, 1)).plantings[0].long_day
    assert own.method.day.bulbing_h.value == 12.0


def test_a_bed_with_no_planting_has_a_season_in_which_nothing_grows():
    empty = season(dt.date(2026, 3, 1), of=replace(BED, plantings=()))
    assert (empty.plantings, empty.growing, empty.feed.plan) == ((), (), ())
    assert DAY_MS == 86_400_000
