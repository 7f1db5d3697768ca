"""One look after another: what refutes what, and what a look cannot take back."""

from __future__ import annotations

import datetime as dt

from collector.crop.observed import Look, Mover, Stage, sights
from collector.crop.stage import StageNow, stage_now

PLANTED, JUNE = dt.date(2025, 10, 20), dt.date(2026, 6, 1)  # 224 days: by days and heat it ripens


def in_june(*looks: Look) -> StageNow:
    found = stage_now(PLANTED, JUNE, "hardneck", 37.1, -7.6, 1600.0, looks)
    assert found is not None
    return found


def may(day: int) -> dt.date:
    return dt.date(2026, 5, day)


def test_a_look_that_another_one_refutes_holds_nothing_back_any_more() -> None:
    found = in_june(Look(may(25), stem_thickens=False), Look(may(28), bulb_to_neck=2.4))
    assert found.stage is Stage.RIPENING
    assert found.held_by is None


def test_the_growers_word_stands_in_for_the_looks_before_it() -> None:
    found = in_june(Look(may(25), bulb_to_neck=1.3), Look(may(28), stage=Stage.BULBING))
    assert found.stage is Stage.BULBING
    assert found.held_by is not None
    assert (found.held_by.mover, found.held_by.day) == (Mover.SAID, may(28))


def test_a_leaf_count_after_bulbing_has_begun_does_not_take_it_back() -> None:
    found = in_june(Look(may(20), bulb_to_neck=2.2), Look(may(30), leaves=8, browned=0))
    assert found.stage is Stage.BULBING
    assert found.moved_by[0].mover is Mover.BULB_TO_NECK


def test_of_two_looks_that_hold_back_the_one_that_saw_least_is_told() -> None:
    found = in_june(Look(may(30), leaves=9, browned=1, bulb_to_neck=1.4))
    assert found.stage is Stage.LEAVES
    assert found.held_by is not None
    assert found.held_by.mover is Mover.BULB_TO_NECK


def test_the_growers_word_comes_alone() -> None:
    assert [sight.mover for sight in sights(Look(JUNE, stage=Stage.LEAVES, leaves=9, bulb_to_neck=4.0), "softneck")] == [
        Mover.SAID
    ]


def test_a_look_at_nothing_tells_nothing() -> None:
    assert sights(Look(JUNE), "hardneck") == ()
    assert sights(Look(JUNE, scape=False), "hardneck") == ()  # no scape yet is no sign: it may have been cut
