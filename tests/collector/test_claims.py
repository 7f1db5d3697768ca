"""Which thermometer is in the hand, where probes go and why, and what may be claimed."""

import math
from dataclasses import replace

import numpy as np
import pytest

from collector.advice.claims import Claims, may_be
from collector.advice.mounting import daily_share, spots
from collector.advice.voice import voice_of
from collector.errors import QuestionError
from collector.model import Series, Unclaimed
from collector.units import Quantity
from tests.dashboard import fakes
from tests.fakes import NOW_MS, FakeClock

T, M = Quantity.SOIL_TEMPERATURE, Quantity.SOIL_MOISTURE
MINUTE_MS = 60_000


class Heard:
    """What was heard of strangers and probes, for `Claims`."""

    def __init__(self, strangers=(), series=()):
        self.strangers, self.known = strangers, dict(series)

    def unclaimed(self):
        return [said[-1] for said in self._by_address().values()]

    def unclaimed_since(self, from_ms):
        return [one for one in self.strangers if one.measured_ms >= from_ms]

    def series(self, probe_id, from_ms, to_ms):
        times, values = self.known.get(probe_id, ((), ()))
        every = Series(
            probe_id, np.array(times, dtype=np.int64), np.array(values, dtype=float), np.zeros(len(times), dtype=np.int64)
        )
        return every.within(from_ms, to_ms)

    def _by_address(self):
        found = {}
        for one in self.strangers:
            found.setdefault(one.address, []).append(one)
        return found


def said(address, *values_c, unit="Cel", every_ms=MINUTE_MS, until_ms=NOW_MS):
    """A value a minute, the last just now."""
    begin_ms = until_ms - (len(values_c) - 1) * every_ms
    return [Unclaimed(address, unit, begin_ms + at * every_ms, value, NOW_MS, "mqtt") for at, value in enumerate(values_c)]


@pytest.fixture
def garden():
    return fakes.one_bed("fine").garden().garden


def claims(garden, strangers=(), series=(), keeper=None):
    return Claims(garden, Heard(strangers, series), FakeClock(), keeper)


SINCE_MS = NOW_MS - 3 * MINUTE_MS


def test_the_one_that_warms_is_in_the_hand(garden):
    asked = claims(
        garden, [*said("a", 14.0, 14.0, 14.1, 14.1), *said("b", 14.0, 15.2, 16.3, 17.1), *said("c", 20.0, 20.1, 20.1, 20.2)]
    )
    moved, found = asked.in_hand(SINCE_MS)
    assert found.address == "b"
    assert [(one.address, pytest.approx(one.moved_k)) for one in moved] == [("b", 3.1), ("c", 0.2), ("a", 0.1)]
    assert (found.last_c, found.last_ms, found.probe) == (17.1, NOW_MS, None)


def test_it_is_found_in_kelvin_and_by_what_it_said_before_the_hand_closed(garden):
    asked = claims(garden, [*said("k", 287.15, 288.4, unit="K"), *said("b", 14.0, 14.2)])
    moved, found = asked.in_hand(NOW_MS)
    assert (found.address, found.words) == ("k", 1)
    assert found.moved_k == pytest.approx(1.25)
    assert [one.words for one in moved] == [1, 1]


@pytest.mark.parametrize(
    "strangers",
    [
        [],
        said("a", 14.0, 14.5),  # too little
        [*said("a", 14.0, 16.0), *said("b", 15.0, 17.5)],  # the sun came out
    ],
)
def test_where_none_stands_out_none_is_named(garden, strangers):
    assert claims(garden, strangers).in_hand(SINCE_MS)[1] is None


def test_one_that_has_not_spoken_since_says_so_and_has_not_moved(garden):
    (moved, *_), found = claims(garden, said("a", 14.0, 19.0, until_ms=SINCE_MS - MINUTE_MS)).in_hand(SINCE_MS)
    assert (moved.words, moved.moved_k, found) == (0, 0.0, None)


def test_a_probe_that_has_its_address_can_be_in_the_hand_too(garden):
    probe = garden.beds[0].probes_of(T)[1]
    series = {probe.id: ((SINCE_MS - 1, NOW_MS), (15.0, 18.0))}
    found = claims(garden, said("a", 14.0, 14.1), series).in_hand(SINCE_MS)[1]
    assert found.probe == probe
    assert found.moved_k == 3.0


def test_what_does_not_speak_of_temperature_cannot_be_warmed(garden):
    assert claims(garden, said("m", 0.2, 0.4, unit="/")).in_hand(SINCE_MS) == ([], None)


def test_a_stranger_is_who_no_probe_has(garden):
    mine = garden.probes[0].address
    asked = claims(garden, [*said(mine, 14.0), *said("a", 15.0, 16.0)])
    assert [(one.address, one.value) for one in asked.strangers()] == [("a", 16.0)]


@pytest.mark.parametrize(
    ("unit", "kinds"),
    [
        ("Cel", (T, Quantity.AIR_TEMPERATURE)),
        ("/", (M,)),
        (None, (M,)),
        ("%RH", (Quantity.RELATIVE_HUMIDITY,)),
        ("mV", (Quantity.BATTERY,)),
        ("lx", ()),
    ],
)
def test_what_an_address_may_be_is_told_by_its_unit(unit, kinds):
    assert may_be(unit) == kinds


# ---------------------------------------------------------------- where probes go


def test_a_thermometer_goes_to_the_cloves_and_none_close_to_it(garden):
    bed = replace(fakes.bed(temperatures_cm=(), moistures_cm=(), air=False), plantings=fakes.bed().plantings)
    found = spots(bed, voice_of(garden))
    assert [spot.depth_m for spot in found if spot.quantity is T] == [0.05, 0.12, 0.20, 0.30]
    assert [spot.depth_m for spot in found if spot.quantity is M] == [0.10, 0.20]
    assert found[1].why == "Where the bulbs form. Its limit of 18 °C is kept here."
    shallow = replace(bed, plantings=(replace(bed.plantings[0], depth_m=0.06),))
    assert [spot.depth_m for spot in spots(shallow, voice_of(garden)) if spot.quantity is T] == [0.06, 0.20, 0.30]


def test_the_share_of_a_days_swing_is_that_of_a_damped_wave():
    # Carslaw & Jaeger 1959, Conduction of Heat in Solids, ch. 2 (from memory): exp(-z / d), so twice as deep is the square.
    bed = fakes.bed()
    at_10, at_20 = daily_share(bed, 0.10), daily_share(bed, 0.20)
    assert at_20 == pytest.approx(at_10**2)
    # Damping depths of a day in soils lie at 8 to 15 cm (Hillel 1982, Introduction to Soil Physics; from memory).
    assert 0.08 < -0.10 / math.log(at_10) < 0.15


def test_a_place_that_has_a_probe_is_not_offered_again(garden):
    asked = claims(garden)
    bed = fakes.bed(temperatures_cm=(5, 12), moistures_cm=(10,), air=False)
    assert [spot.depth_m for spot in asked.free_spots(bed, [T])] == [0.20, 0.30]
    assert [(spot.quantity, spot.depth_m) for spot in asked.free_spots(bed, [M])] == [(M, 0.20)]


# ---------------------------------------------------------------- claiming


class Keeper:
    def __init__(self):
        self.added = []

    def add_probe(self, probe):
        self.added.append(probe)


def test_a_claim_is_written_with_an_id_of_its_own(garden):
    keeper, bed = Keeper(), garden.beds[0]
    asked = claims(garden, keeper=keeper)
    probe = asked.claim("a", bed.id, T, 0.125)
    assert keeper.added == [probe]
    assert (probe.id, probe.bed_id, probe.address, probe.depth_m) == (f"{bed.id}-t12-5", bed.id, "a", 0.125)
    # its bed has thermometers at 5 and 10 cm already
    assert asked.claim("b", bed.id, T, 0.05).id == f"{bed.id}-t5-2"
    assert asked.claim("c", bed.id, Quantity.BATTERY, None, "mine").id == "mine"


@pytest.mark.parametrize(
    ("address", "bed_id", "quantity", "depth_m", "told"),
    [
        ("a", "nowhere", T, 0.1, "names no such bed; want one of: fine"),
        ("a", "fine", T, None, "has to have a depth"),
        ("a", "fine", Quantity.BATTERY, 0.1, "has no depth"),
        ("a", "fine", T, -0.05, "-5 cm is no depth"),
        ("a", "fine", T, math.nan, "nan cm is no depth"),
        ("urn:dev:ow:fine-t5", "fine", T, 0.1, "probe fine-t5 of bed fine has this address already"),
    ],
)
def test_what_cannot_be_claimed_is_told(garden, address, bed_id, quantity, depth_m, told):
    keeper = Keeper()
    with pytest.raises(QuestionError, match=told):
        claims(garden, keeper=keeper).claim(address, bed_id, quantity, depth_m)
    assert keeper.added == []


def test_without_a_keeper_nothing_is_claimed(garden):
    with pytest.raises(QuestionError, match="write the probe into it"):
        claims(garden).claim("a", "fine", T, 0.1)


def test_an_address_that_speaks_in_another_unit_is_not_claimed_for_what_it_is_not(garden):
    class Keeper:
        def add_probe(self, probe):
            pass

    heard = [*said("stake/m12", 0.21, unit="/"), *said("stake/ohm", 107.0, unit="Ohm")]
    here = claims(garden, heard, keeper=Keeper())
    with pytest.raises(QuestionError, match="stake/m12: it speaks in /, which is soil_moisture, not soil_temperature"):
        here.claim("stake/m12", "fine", T, 0.12)
    assert here.claim("stake/m12", "fine", M, 0.12).quantity is M
    assert here.claim("stake/ohm", "fine", T, 0.12).quantity is T  # a calibration will tell what that means
