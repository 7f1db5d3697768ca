"""When to lift, how the cure goes and what a store does."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from collector.crop import curing
from collector.crop.curing import Cured, cure_stand, store_stand
from collector.crop.observed import Look
from collector.crop.ripening import Lift, lift_signs, lift_window
from tests.collector.crop.made import DAY_MS, HOUR_MS, flat, hours, values

MAY = dt.date(2026, 5, 20)


@pytest.mark.parametrize(
    ("leaves", "browned", "lift"),
    [(10, 0, Lift.NOT_YET), (10, 2, Lift.NOT_YET), (10, 3, Lift.OPEN), (10, 5, Lift.OPEN), (10, 6, Lift.LATE), (5, 3, Lift.LATE)],
)
def test_it_may_be_lifted_from_three_brown_leaves_and_is_late_past_half(leaves: int, browned: int, lift: Lift) -> None:
    assert lift_signs(Look(MAY, leaves=leaves, browned=browned)).lift is lift


def test_each_sources_sign_is_answered_for_itself() -> None:
    signs = lift_signs(Look(MAY, leaves=10, browned=4))
    assert (signs.three_leaves, signs.five_leaves, signs.third_brown, signs.over_half_brown) == (True, False, True, False)


def test_brown_leaves_without_a_count_of_all_leave_the_shares_open() -> None:
    signs = lift_signs(Look(MAY, browned=4))
    assert (signs.three_leaves, signs.third_brown, signs.over_half_brown) == (True, None, None)
    assert signs.lift is Lift.OPEN


@pytest.mark.parametrize("look", [None, Look(MAY, leaves=9)])
def test_where_nobody_looked_it_is_not_known(look: Look | None) -> None:
    assert lift_signs(look).lift is Lift.NOT_KNOWN


def test_leaves_that_go_on_browning_tell_the_window() -> None:
    # a leaf a week: one on 6 May, two on 13 May; three on 20 May, half of ten on 3 June
    window = lift_window([Look(dt.date(2026, 5, 6), leaves=10, browned=1), Look(dt.date(2026, 5, 13), leaves=10, browned=2)])
    assert window is not None
    assert (window.first, window.last) == (dt.date(2026, 5, 20), dt.date(2026, 6, 3))
    assert (window.dry_from, window.dry_to) == (dt.date(2026, 4, 22), dt.date(2026, 5, 6))


def test_the_window_is_known_in_any_order_and_only_by_the_last_two_counts() -> None:
    looks = [
        Look(dt.date(2026, 5, 13), leaves=10, browned=2),
        Look(dt.date(2026, 3, 1), leaves=6, browned=0),
        Look(dt.date(2026, 5, 14), leaves=10),
        Look(dt.date(2026, 5, 6), leaves=10, browned=1),
    ]
    window = lift_window(looks)
    assert window is not None
    assert window.first == dt.date(2026, 5, 20)


def test_a_window_that_is_open_began_in_the_past() -> None:
    window = lift_window([Look(dt.date(2026, 5, 6), leaves=10, browned=2), Look(dt.date(2026, 5, 13), leaves=10, browned=4)])
    assert window is not None
    assert window.first == dt.date(2026, 5, 9)


def test_a_small_plant_has_no_window_that_ends_before_it_begins() -> None:
    window = lift_window([Look(dt.date(2026, 5, 6), leaves=4, browned=1), Look(dt.date(2026, 5, 13), leaves=4, browned=2)])
    assert window is not None
    assert window.last == window.first


@pytest.mark.parametrize(
    "looks",
    [
        [],
        [Look(MAY, leaves=10, browned=2)],
        [Look(MAY, leaves=10, browned=2), Look(MAY, leaves=10, browned=3)],
        [Look(dt.date(2026, 5, 6), leaves=10, browned=2), Look(MAY, leaves=10, browned=2)],
        [Look(dt.date(2026, 5, 6), leaves=10, browned=3), Look(MAY, leaves=10, browned=2)],
    ],
)
def test_one_count_or_leaves_that_do_not_brown_tell_no_window(looks: list[Look]) -> None:
    assert lift_window(looks) is None


def test_a_count_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match=r"browned on 2026-05-20 is 11; want 0 to 10"):
        lift_signs(Look(MAY, leaves=10, browned=11))
    with pytest.raises(ValueError, match=r"leaves on 2026-05-20 is 90"):
        lift_window([Look(MAY, leaves=90)])


# ---------------------------------------------------------------- curing


def cure(days: int, air_c: float, humidity_pct: float) -> curing.CureStand:
    count = 24 * days + 1
    return cure_stand(hours(count), flat(air_c, count), flat(humidity_pct, count), 0, days * DAY_MS)


def test_four_weeks_hung_are_cured_by_days() -> None:
    assert cure(27, 22.0, 55.0).cured is Cured.NOT_YET
    assert cure(28, 22.0, 55.0).cured is Cured.BY_DAYS


def test_ten_days_warm_and_dry_are_cured_by_warmth() -> None:
    assert cure(9, 30.0, 65.0).cured is Cured.NOT_YET
    assert cure(10, 30.0, 65.0).cured is Cured.BY_WARMTH
    assert cure(10, 30.0, 80.0).cured is Cured.NOT_YET


def test_hours_too_hot_and_too_damp_are_told() -> None:
    # rising from 20 to 44 °C over a day: 12 h above 32; 80 % all day
    found = cure_stand(hours(25), 20.0 + np.arange(25, dtype=np.float64), flat(80.0, 25), 0, DAY_MS)
    assert found.hot_h == pytest.approx(12.0)
    assert found.damp_h == pytest.approx(24.0)
    assert found.warm_h == 0.0


def test_thirty_two_degrees_are_not_above_thirty_two() -> None:
    assert cure(1, 32.0, 65.0).hot_h == 0.0


def test_a_place_with_no_probe_is_cured_by_days_alone_and_all_is_a_gap() -> None:
    nothing = np.empty(0)
    found = cure_stand(np.empty(0, dtype=np.int64), nothing, nothing, 0, 30 * DAY_MS)
    assert found == curing.CureStand(30.0, 0.0, 0.0, 0.0, 720.0, Cured.BY_DAYS)


def test_humidity_that_is_not_known_makes_no_warm_dry_hours() -> None:
    found = cure_stand(hours(3), flat(30.0, 3), values(65.0, math.nan, math.nan), 0, 2 * HOUR_MS)
    assert (found.warm_h, found.gap_h) == (0.0, 2.0)


# ---------------------------------------------------------------- the store


def test_at_freezing_both_sources_speak_and_differ() -> None:
    months = {(store.least_months, store.most_months) for store in store_stand(0.0, 65.0).ranges}
    assert months == {(9.0, None), (6.0, 7.0)}


def test_a_warm_dry_store_keeps_a_month_or_two() -> None:
    stand = store_stand(22.0, 60.0)
    assert [(store.least_months, store.most_months) for store in stand.ranges] == [(1.0, 2.0)]
    assert (stand.sprouts, stand.too_damp) == (False, False)


@pytest.mark.parametrize(("air_c", "sprouts"), [(4.9, False), (5.0, True), (18.0, True), (18.1, False)])
def test_a_cool_store_sprouts_and_no_source_tells_its_months(air_c: float, sprouts: bool) -> None:
    stand = store_stand(air_c, 60.0)
    assert stand.sprouts is sprouts
    assert stand.ranges == ()


def test_a_damp_store_keeps_no_promise() -> None:
    assert store_stand(0.0, 90.0) == curing.StoreStand((), sprouts=False, too_damp=True)
    assert store_stand(12.0, 80.0).too_damp
    assert store_stand(0.0, 72.0).too_damp  # by the cold stores' own 70 %
    assert not store_stand(22.0, 72.0).too_damp


def test_humidity_that_is_not_known_is_not_taken_for_dry() -> None:
    assert store_stand(0.0, None) == curing.StoreStand((), sprouts=False, too_damp=None)


def test_a_store_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match=r"humidity_pct is 300.0; want 0 to 110 \[%RH\]"):
        store_stand(0.0, 300.0)
    with pytest.raises(ValueError, match=r"air_c is nan"):
        store_stand(math.nan, 60.0)
