"""Dose arithmetic where it meets odd labels and tanks, and the plan of the season."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.crop import feed_plan, feeding
from collector.crop.feed_plan import Enough, dose_g_m2, feeding_days, next_feeding, nitrogen_stand
from collector.crop.feeding import Label, Ratio, nitrogen_g_m2, product_g, product_ml, tank
from collector.crop.observed import Stage

LIQUID = Label(9.0, 3.0, 6.0, density_kg_l=1.2)
SOLID = Label(20.0, 20.0, 20.0)


def test_a_product_without_nitrogen_is_refused() -> None:
    with pytest.raises(ValueError, match=r"the label tells 0 % N; want a product with nitrogen"):
        product_g(5.0, Label(0.0, 46.0))


@pytest.mark.parametrize(
    ("label", "words"),
    [
        ((-1.0, 0.0, 0.0), r"n_pct is -1.0; want 0 to 100"),
        ((50.0, 40.0, 20.0), r"n_pct \+ p2o5_pct \+ k2o_pct is 110.0"),
        ((5.0, float("nan"), 0.0), r"p2o5_pct is nan"),
        ((5.0, 0.0, 0.0, 12.0), r"density_kg_l is 12.0; want 0.5 to 3 \[kg/L\]"),
    ],
)
def test_a_label_that_cannot_be_is_refused(label: tuple[float, ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Label(*label)


def test_a_product_with_no_density_has_a_mass_and_no_volume() -> None:
    assert product_ml(6.0, SOLID) is None
    assert product_g(6.0, SOLID) == pytest.approx(30.0)


@given(st.floats(0.1, 20.0), st.floats(0.5, 50.0), st.floats(1.0, 46.0))
def test_what_is_weighed_in_is_what_the_bed_gets(n_g_m2: float, area_m2: float, n_pct: float) -> None:
    label = Label(n_pct)
    assert nitrogen_g_m2(product_g(n_g_m2 * area_m2, label), label, area_m2) == pytest.approx(n_g_m2)


def test_a_can_holds_the_feed_itself() -> None:
    can = tank(2.0, 3.0, LIQUID, 10.0)
    assert can.feed_l == 10.0
    assert can.n_mg_l == pytest.approx(600.0)  # 6 g in 10 L
    assert can.product_g_per_l == pytest.approx(6.667, abs=0.001)


def test_an_injector_spreads_the_same_product_over_more_water() -> None:
    in_mix, to_water = (tank(2.0, 3.0, LIQUID, 10.0, 16.0, ratio) for ratio in Ratio)
    assert (in_mix.feed_l, to_water.feed_l) == (160.0, 170.0)
    assert in_mix.product_g == to_water.product_g == pytest.approx(66.667, abs=0.001)
    assert in_mix.n_mg_l / to_water.n_mg_l == pytest.approx(1.0625)


@pytest.mark.parametrize(("parts", "words"), [(0.5, "n of 1:n is 0.5"), (0.0, "n of 1:n is 0.0")])
def test_an_injector_that_cannot_be_is_refused(parts: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        tank(2.0, 3.0, LIQUID, 10.0, parts)


def test_a_bed_of_no_area_is_refused() -> None:
    with pytest.raises(ValueError, match=r"area_m2 is 0.0; want 0.0001"):
        nitrogen_g_m2(10.0, LIQUID, 0.0)


# ---------------------------------------------------------------- the plan (common practice, no source)

LEAVES, BULBING = dt.date(2026, 2, 1), dt.date(2026, 4, 30)


def test_four_feedings_lie_evenly_between_leaves_and_two_weeks_before_bulbing() -> None:
    plan = feeding_days(LEAVES, BULBING)
    assert len(plan) == 4
    assert (plan[0], plan[-1]) == (LEAVES, dt.date(2026, 4, 16))
    apart_d = {(after - before).days for before, after in itertools.pairwise(plan)}
    assert apart_d <= {24, 25}


@pytest.mark.parametrize(
    ("bulbing", "count"),
    [
        (dt.date(2026, 3, 29), 4),  # 42 days to feed in
        (dt.date(2026, 3, 28), 3),
        (dt.date(2026, 3, 1), 2),
        (dt.date(2026, 2, 20), 1),
        (dt.date(2026, 2, 15), 1),
        (dt.date(2026, 2, 14), 0),
        (dt.date(2026, 1, 1), 0),
    ],
)
def test_a_short_season_has_fewer_feedings_and_none_too_close(bulbing: dt.date, count: int) -> None:
    plan = feeding_days(LEAVES, bulbing)
    assert len(plan) == count
    assert all((after - before).days >= 14 for before, after in itertools.pairwise(plan))
    assert all(day <= bulbing - dt.timedelta(days=14) for day in plan)


PLAN = feeding_days(LEAVES, BULBING)


def test_the_next_feeding_is_the_first_that_was_not_given() -> None:
    assert next_feeding(PLAN, [], Stage.LEAVES) == PLAN[0]
    assert next_feeding(PLAN, [PLAN[0]], Stage.LEAVES) == PLAN[1]
    assert next_feeding(PLAN, PLAN, Stage.LEAVES) is None
    assert next_feeding(PLAN, [], None) == PLAN[0]


def test_a_feeding_given_late_puts_the_next_one_off() -> None:
    late = PLAN[1] - dt.timedelta(days=3)
    assert next_feeding(PLAN, [late], Stage.LEAVES) == late + dt.timedelta(days=14)


@pytest.mark.parametrize("stage", [Stage.BULBING, Stage.RIPENING, Stage.LIFTED, Stage.CURED])
def test_once_bulbing_has_begun_there_is_no_feeding(stage: Stage) -> None:
    assert next_feeding(PLAN, [], stage) is None


def test_nitrogen_so_far_lies_below_within_or_above_the_seasons_range() -> None:
    assert nitrogen_stand(0.0, 3.0).season is Enough.BELOW
    assert nitrogen_stand(4.0, 4.4).season is Enough.WITHIN
    assert nitrogen_stand(5.0, 9.0).season is Enough.WITHIN
    above = nitrogen_stand(5.0, 9.1)
    assert above.season is Enough.ABOVE
    assert above.left_g_m2 == 0.0
    assert nitrogen_stand(4.0, 4.0).left_g_m2 == pytest.approx(6.0)


def test_what_was_given_in_spring_is_held_against_its_own_limit() -> None:
    assert not nitrogen_stand(8.0, 5.6).spring_over
    assert nitrogen_stand(0.0, 5.7).spring_over


def test_what_is_left_is_given_in_equal_parts() -> None:
    assert dose_g_m2(5.6, 0.0, 4) == pytest.approx(1.4)
    assert dose_g_m2(5.6, 3.6, 2) == pytest.approx(1.0)
    assert dose_g_m2(5.6, 6.0, 2) == 0.0
    with pytest.raises(ValueError, match=r"feedings_left is 0; want 1 to 100"):
        dose_g_m2(5.6, 0.0, 0)


def test_amounts_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match=r"since_g_m2 is -1.0"):
        nitrogen_stand(0.0, -1.0)
    limits = replace(feed_plan.USUAL, feedings=feed_plan.USUAL.feedings.by_grower(0.0))
    with pytest.raises(ValueError, match=r"feedings is 0.0; want 1 to 100"):
        feeding_days(LEAVES, BULBING, limits)


def test_a_stock_of_an_injector_is_as_many_times_as_strong() -> None:
    assert feeding.concentrate_g_l(150.0, SOLID, 16.0, Ratio.PART_IN_MIX) == pytest.approx(12.0)
    assert feeding.concentrate_g_l(150.0, SOLID, 16.0, Ratio.PART_TO_WATER) == pytest.approx(12.75)
