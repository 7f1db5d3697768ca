"""What the garden file says of the season: feeds, places of probes, and the limits that the grower sets."""

import datetime as dt
import math

import pytest

from collector.crop.method import USUAL
from collector.errors import GardenFileError
from collector.model import Feed, Injector, Place
from tests.collector.test_garden_file import LEAST, parse

SEASON = """
[feeding]
tank_l = 10
injector = 16
injector_counts = "parts of water"

[[feed]]
name = "Fish feed"
n_pct = 4
p2o5_pct = 1
k2o_pct = 3
density_kg_l = 1.15

[limits]
chill_warm_c = 8
day_bulbing_h = 12.5
daylength = "civil"
"""


def test_feeds_and_the_injector_are_read_as_the_label_and_the_maker_tell_them():
    garden = parse(LEAST + SEASON)
    assert garden.feeds == (Feed("Fish feed", 4.0, 1.0, 3.0, 1.15),)
    assert (garden.injector, garden.tank_l) == (Injector(16.0, of_mix=False), 10.0)


def test_an_injector_of_which_it_is_not_known_what_it_counts_says_so():
    assert parse(LEAST + "[feeding]\ninjector = 16\n").injector == Injector(16.0, of_mix=None)
    assert parse(LEAST + "[feeding]\ntank_l = 8\n").injector is None


def test_only_limits_that_the_grower_set_are_own():
    garden = parse(LEAST + SEASON)
    assert garden.limits == {"chill_warm_c": 8.0, "day_bulbing_h": 12.5}
    assert garden.daylength == "civil"
    least = parse(LEAST)
    assert (least.limits, least.daylength) == ({}, None)


@pytest.mark.parametrize("name", sorted(USUAL.named()))
def test_every_limit_may_be_set_in_the_garden_file_to_what_it_usually_is(name):
    value = USUAL.named()[name].value
    assert math.isclose(parse(f"{LEAST}[limits]\n{name} = {value}\n").limits[name], value)


def test_limits_in_the_wrong_order_and_labels_over_a_hundred_are_told():
    with pytest.raises(GardenFileError) as told:
        parse(LEAST + '[[feed]]\nname = "All"\nn_pct = 60\nk2o_pct = 60\n[limits]\nchill_warm_c = -2\nheat_basis_c = 3\n')
    assert told.value.problems == (
        "limits.heat_basis_c: unknown key; did you mean heat_base_c?",
        "limits.chill_warm_c: want chill_cold_c below chill_warm_c; they are 0 and -2",
        "feed[1]: its parts are 120 % in all; want no more than 100, as on the label",
    )


def test_a_probe_may_be_where_cloves_are_chilled_or_bulbs_cured():
    probe = '[[bed.probe]]\nid = "{0}"\nquantity = "air_temperature"\naddress = "{0}"\nplace = "{1}"\n'
    (bed,) = parse(LEAST + probe.format("a", "chill store") + probe.format("b", "curing place")).beds
    assert [one.place for one in bed.probes] == [Place.CHILL_STORE, Place.CURING]
    assert [one.id for one in bed.probes_of(bed.probes[0].quantity)] == []
    assert [one.id for one in bed.probes_of(bed.probes[0].quantity, Place.CURING)] == ["b"]
    with pytest.raises(GardenFileError, match="want one of bed, chill store, curing place; did you mean curing place"):
        parse(LEAST + probe.format("a", "curing plaec"))


def test_when_the_morning_is_summed_up_and_how_soon_it_is_reminded_of_is_the_growers():
    phone = '[[notify]]\nurl_env = "COOLDEPTH_PHONE_URL"\n'
    least = LEAST.replace("[garden]", '[garden]\ntimezone = "Europe/Lisbon"')
    (usual,) = parse(least + phone).notify
    assert (usual.summary_at, usual.remind_after_h) == (None, 24)
    (own,) = parse(least + phone + 'summary_at = "06:45"\nremind_after_h = 0\n').notify
    assert (own.summary_at, own.remind_after_h) == (dt.time(6, 45), 0)
    with pytest.raises(GardenFileError, match='summary_at = "dawn": want a time HH:MM, as "07:00"'):
        parse(least + phone + 'summary_at = "dawn"\n')
