"""The limits of the season in one value, and the grower's own in their place."""

import datetime as dt
from dataclasses import fields

import pytest

from collector.calls import Evidence
from collector.crop import daylength, stage
from collector.crop.method import USUAL

AUTUMN, SPRING = dt.date(2026, 10, 20), dt.date(2026, 3, 1)


def test_every_limit_has_a_name_and_can_be_set_to_the_growers_own():
    for name, limit in USUAL.named().items():
        own = USUAL.with_own({name: limit.value + 0.25}).named()[name]
        assert (own.value, own.unit, own.evidence) == (limit.value + 0.25, limit.unit, Evidence.OWN)
        assert f"the usual is {limit.value:g}" in own.source
        assert all(other == USUAL.named()[one] for one, other in USUAL.with_own({name: 1.0}).named().items() if one != name)


def test_several_limits_of_one_group_are_set_together():
    own = USUAL.with_own({"chill_cold_c": 1.0, "chill_warm_c": 8.0})
    assert (own.chill.cold_c.value, own.chill.warm_c.value) == (1.0, 8.0)


def test_an_unknown_name_is_refused():
    with pytest.raises(KeyError):
        USUAL.with_own({"chill_lukewarm_c": 12.0})


def test_the_usual_limits_are_in_order_and_limits_that_are_not_are_named():
    assert USUAL.misordered() == ()
    assert USUAL.with_own({"heat_base_c": 31.0}).misordered() == (("heat_base_c", "heat_cap_c"),)


def test_the_stages_of_a_planting_are_those_of_its_season():
    for planted in (AUTUMN, SPRING):
        assert USUAL.stages(planted, 37.0, -7.6) == stage.limits_for(planted, 37.0, -7.6)


def test_own_limits_and_the_definition_of_daylength_reach_the_stages():
    own = USUAL.with_own({"day_bulbing_h": 12.5, "autumn_bulbing_k_d": 1000.0}, daylength.Definition.CIVIL)
    autumn, spring = own.stages(AUTUMN, 37.0, -7.6), own.stages(SPRING, 37.0, -7.6)
    assert (autumn.bulbing_day.hours.value, autumn.bulbing_day.definition) == (12.5, daylength.Definition.CIVIL)
    assert (autumn.bulbing_k_d.value, spring.bulbing_k_d.value) == (1000.0, 490.0)


def test_no_limit_of_the_crop_is_left_out():
    groups = {field.name for field in fields(USUAL)} - {"definition"}
    assert groups == {name.partition("_")[0] for name in USUAL.named()}
