"""How far a planting has come: looks win, sums suggest, and each says what moved it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from collector.calls import Evidence
from collector.crop import stage as stages
from collector.crop.observed import Look, Mover, Stage
from collector.crop.stage import StageNow, limits_for, stage_now

PLANTED = dt.date(2025, 10, 20)
APRIL, MAY = dt.date(2026, 4, 10), dt.date(2026, 5, 10)
LATITUDE_DEG, LONGITUDE_DEG = 37.1, -7.6  # 13.5 h from 29 April on


def now(
    today: dt.date, heat_k_d: float | None, *looks: Look, kind: str = "hardneck", latitude_deg: float = LATITUDE_DEG
) -> StageNow:
    found = stage_now(PLANTED, today, kind, latitude_deg, LONGITUDE_DEG, heat_k_d, looks)
    assert found is not None
    return found


def movers(found: StageNow) -> set[Mover]:
    return {reason.mover for reason in found.moved_by}


def test_before_the_planting_there_is_no_stage() -> None:
    assert stage_now(PLANTED, PLANTED - dt.timedelta(days=1), "hardneck", LATITUDE_DEG, LONGITUDE_DEG, None, []) is None


def test_on_the_day_of_planting_it_is_planted() -> None:
    found = now(PLANTED, 0.0)
    assert found.stage is Stage.PLANTED
    assert movers(found) == {Mover.PLANTING}


# ---------------------------------------------------------------- the sums alone


def test_a_season_by_its_sums_alone_goes_through_its_stages_in_order() -> None:
    # heat by the month of a mild coast, some 9 K a day: long autumn sums 580, 1195 and 1510 K d; long days from 29 April
    season = [now(PLANTED + dt.timedelta(days=day), 9.0 * day).stage for day in (0, 60, 70, 150, 180, 200, 215, 225)]
    leaves, bulbing, ripening = Stage.LEAVES, Stage.BULBING, Stage.RIPENING
    assert season == [Stage.PLANTED, Stage.PLANTED, leaves, leaves, leaves, bulbing, bulbing, ripening]


def test_heat_alone_does_not_begin_bulbing_before_the_days_are_long() -> None:
    found = now(APRIL, 1400.0)
    assert found.stage is Stage.LEAVES
    light = next(reason for reason in found.suggestions if reason.mover is Mover.DAYLENGTH)
    assert light.met is False
    assert light.number == pytest.approx(12.83, abs=0.02)  # the sun's centre, as the threshold wants it
    assert light.limit is not None
    assert light.limit.value == 13.5


def test_long_days_alone_do_not_begin_bulbing_while_the_heat_is_not_known() -> None:
    found = now(MAY, None)
    assert found.stage is Stage.PLANTED
    assert {reason.met for reason in found.suggestions if reason.mover is Mover.HEAT_SUM} == {None}


def test_both_together_begin_it_and_both_are_told() -> None:
    found = now(MAY, 1300.0)
    assert found.stage is Stage.BULBING
    assert movers(found) == {Mover.HEAT_SUM, Mover.DAYLENGTH}
    light = next(reason for reason in found.moved_by if reason.mover is Mover.DAYLENGTH)
    assert light.day == dt.date(2026, 4, 29)
    assert all(reason.limit is not None and reason.limit.evidence is Evidence.WEAK for reason in found.moved_by)
    assert not found.seen


def test_where_the_days_never_grow_long_enough_bulbing_waits_for_a_look() -> None:
    june = dt.date(2026, 5, 20)
    assert now(june, 1300.0, latitude_deg=20.0).stage is Stage.LEAVES
    seen = now(june, 1300.0, Look(june, bulb_to_neck=2.1), latitude_deg=20.0)
    assert seen.stage is Stage.BULBING
    assert seen.seen


def test_ripening_wants_time_as_well_as_heat() -> None:
    assert now(MAY, 1600.0).stage is Stage.BULBING  # 202 days
    june = dt.date(2026, 6, 1)  # 224 days
    assert now(june, 1600.0).stage is Stage.RIPENING
    assert movers(now(june, 1600.0)) == {Mover.HEAT_SUM, Mover.DAYS}
    assert now(june, None).stage is Stage.RIPENING
    assert movers(now(june, None)) == {Mover.DAYS}


def test_sums_never_lift_the_crop() -> None:
    assert now(dt.date(2026, 9, 1), 5000.0).stage is Stage.RIPENING


def test_a_spring_planting_has_the_short_season_and_120_days() -> None:
    assert limits_for(dt.date(2026, 2, 20), LATITUDE_DEG, LONGITUDE_DEG) is stages.SPRING
    assert limits_for(PLANTED, LATITUDE_DEG, LONGITUDE_DEG) is stages.AUTUMN
    assert limits_for(dt.date(2026, 4, 10), -LATITUDE_DEG, LONGITUDE_DEG) is stages.AUTUMN
    planted = dt.date(2026, 2, 20)
    for day, stage in ((118, Stage.BULBING), (120, Stage.RIPENING)):
        found = stage_now(planted, planted + dt.timedelta(days=day), "softneck", LATITUDE_DEG, LONGITUDE_DEG, 900.0, [])
        assert found is not None
        assert found.stage is stage


# ---------------------------------------------------------------- what the grower sees


@pytest.mark.parametrize(
    ("look", "stage", "mover"),
    [
        (Look(APRIL, leaves=1), Stage.SPROUTED, Mover.LEAF_COUNT),
        (Look(APRIL, leaves=3), Stage.LEAVES, Mover.LEAF_COUNT),
        (Look(APRIL, leaves=8, stem_thickens=True), Stage.BULBING, Mover.STEM),
        (Look(APRIL, leaves=8, bulb_to_neck=2.0), Stage.BULBING, Mover.BULB_TO_NECK),
        (Look(APRIL, leaves=8, bulb_to_neck=5.2), Stage.RIPENING, Mover.BULB_TO_NECK),
        (Look(APRIL, leaves=9, browned=3), Stage.RIPENING, Mover.BROWNED),
        (Look(APRIL, scape=True), Stage.BULBING, Mover.SCAPE),
        (Look(APRIL, stage=Stage.LIFTED), Stage.LIFTED, Mover.SAID),
    ],
)
def test_a_look_moves_the_stage_and_says_by_what(look: Look, stage: Stage, mover: Mover) -> None:
    found = now(APRIL, 100.0, look)
    assert found.stage is stage
    assert movers(found) == {mover}
    assert found.moved_by[0].day == APRIL
    assert found.seen


def test_a_scape_tells_nothing_of_a_softneck() -> None:
    assert now(APRIL, 100.0, Look(APRIL, scape=True), kind="softneck").stage is Stage.PLANTED


def test_the_look_that_goes_farthest_decides() -> None:
    assert now(APRIL, 100.0, Look(APRIL, leaves=10, browned=4, bulb_to_neck=3.0)).stage is Stage.RIPENING


def test_a_bulb_that_has_not_swollen_holds_back_what_the_sums_suggest() -> None:
    found = now(MAY, 1300.0, Look(dt.date(2026, 5, 5), leaves=9, bulb_to_neck=1.3))
    assert found.stage is Stage.LEAVES
    assert found.held_by is not None
    assert (found.held_by.mover, found.held_by.number) == (Mover.BULB_TO_NECK, 1.3)
    assert found.look_again == dt.date(2026, 5, 19)


def test_a_look_holds_for_two_weeks_and_then_a_new_one_is_due() -> None:
    look = Look(dt.date(2026, 5, 5), leaves=9, bulb_to_neck=1.3)
    assert now(dt.date(2026, 5, 18), 1300.0, look).stage is Stage.LEAVES
    after = now(dt.date(2026, 5, 19), 1300.0, look)
    assert after.stage is Stage.BULBING
    assert after.held_by is None


def test_a_later_look_of_the_same_sort_replaces_the_one_that_held_back() -> None:
    first, second = Look(dt.date(2026, 5, 5), bulb_to_neck=1.3), Look(dt.date(2026, 5, 9), bulb_to_neck=2.4)
    assert now(MAY, 1300.0, first, second).stage is Stage.BULBING
    assert now(MAY, 1300.0, second, first).stage is Stage.BULBING  # in any order


def test_leaves_that_are_green_yet_hold_back_ripening_but_not_bulbing() -> None:
    june = dt.date(2026, 6, 1)
    found = now(june, 1600.0, Look(june, leaves=10, browned=1))
    assert found.stage is Stage.BULBING
    assert found.held_by is not None
    assert found.held_by.mover is Mover.BROWNED


def test_no_leaf_yet_holds_back_everything() -> None:
    found = now(MAY, 1300.0, Look(MAY, leaves=0))
    assert found.stage is Stage.PLANTED


def test_the_growers_word_wins_over_sums_and_measures_and_may_take_back() -> None:
    bulbing, back = Look(dt.date(2026, 4, 1), bulb_to_neck=2.2), Look(APRIL, stage=Stage.LEAVES)
    assert now(APRIL, 1300.0, bulbing, back).stage is Stage.LEAVES
    assert now(APRIL, 1300.0, back, bulbing).stage is Stage.LEAVES
    held = now(dt.date(2026, 5, 2), 1300.0, Look(dt.date(2026, 5, 1), stage=Stage.LEAVES))
    assert held.stage is Stage.LEAVES
    assert held.held_by is not None
    assert held.held_by.mover is Mover.SAID


def test_a_measure_after_the_lift_does_not_plant_the_crop_again() -> None:
    assert now(MAY, 1300.0, Look(APRIL, stage=Stage.LIFTED), Look(MAY, leaves=0)).stage is Stage.LIFTED


def test_a_lifted_crop_is_suggested_to_be_cured_after_four_weeks() -> None:
    lifted = Look(APRIL, stage=Stage.LIFTED)
    assert now(APRIL + dt.timedelta(days=27), 1300.0, lifted).stage is Stage.LIFTED
    cured = now(APRIL + dt.timedelta(days=28), 1300.0, lifted)
    assert cured.stage is Stage.CURED
    assert movers(cured) == {Mover.DAYS_LIFTED}
    assert not cured.seen


def test_the_growers_own_limits_are_used_where_given() -> None:
    own = replace(stages.AUTUMN, bulbing_k_d=stages.AUTUMN.bulbing_k_d.by_grower(1350.0))
    found = stage_now(PLANTED, MAY, "hardneck", LATITUDE_DEG, LONGITUDE_DEG, 1300.0, [], own)
    assert found is not None
    assert found.stage is Stage.LEAVES


# ---------------------------------------------------------------- what cannot be


@pytest.mark.parametrize(
    ("look", "words"),
    [
        (Look(PLANTED - dt.timedelta(days=1)), "a look of 2025-10-19; want a date from the planting, 2025-10-20, to today"),
        (Look(MAY + dt.timedelta(days=1)), "a look of 2026-05-11"),
        (Look(MAY, leaves=-1), r"leaves on 2026-05-10 is -1; want 0 to 40 \[leaves\]"),
        (Look(MAY, leaves=4, browned=5), r"browned on 2026-05-10 is 5; want 0 to 4 \[leaves\]"),
        (Look(MAY, bulb_to_neck=0.1), r"bulb_to_neck on 2026-05-10 is 0.1; want 0.5 to 30 \[ratio\]"),
        (Look(MAY, bulb_to_neck=float("nan")), "bulb_to_neck on 2026-05-10 is nan"),
    ],
)
def test_a_look_that_cannot_be_is_refused(look: Look, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        now(MAY, 1300.0, look)


def test_heat_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match=r"heat_k_d is -5.0; want 0 to 20000 \[K d\]"):
        now(MAY, -5.0)
