"""What probes say: near the truth, in the steps of the instrument, with the faults that the scenario asks for."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from collector.decode import senml
from collector.model import Bed, Planting, Probe
from collector.simulate.bed import SimulatedBed
from collector.simulate.probes import RESET_VALUE_C, Fault, Kind, Record, SimulatedStake, pack
from collector.simulate.weather import STEP_MS, Climate, Moment
from collector.units import Quantity

CLIMATE = Climate(35.0, 20.0, 50.0, year_mean_c=16.0, year_swing_k=7.0, warmest_day=210.0, day_swing_k=6.0)
START_MS = int(dt.datetime(2026, 4, 1, tzinfo=dt.UTC).timestamp() * 1000)
SOIL = Probe("t10", "one", Quantity.SOIL_TEMPERATURE, "urn:dev:ow:28aa", 0.10)
MOISTURE = Probe("m10", "one", Quantity.SOIL_MOISTURE, "urn:dev:mac:02bb_moisture", 0.10)
BATTERY = Probe("battery", "one", Quantity.BATTERY, "urn:dev:mac:02bb_battery")
RAIN = Probe("rain", "one", Quantity.RAIN, "urn:dev:mac:02bb_rain")


def bed() -> SimulatedBed:
    garden_bed = Bed("one", "One", 5.0, "loam", 0.25, 0.12, plantings=(Planting("Any", 0.08, dt.date(2025, 11, 1)),))
    return SimulatedBed(garden_bed, CLIMATE, dt.date(2026, 4, 1))


def stake(*probes: Probe, faults: tuple[Fault, ...] = (), volts_per_day: float = 0.0) -> SimulatedStake:
    return SimulatedStake("here/stake", probes, faults, 4.1, volts_per_day)


def moment(step: int, rain_mm: float = 0.0) -> Moment:
    return Moment(START_MS + step * STEP_MS, 25.0, 0.0, 60.0, 1.5, rain_mm, 70.0, 0.0)


def values(one: SimulatedStake, steps: int, **weather: float) -> list[float]:
    """What a stake with one probe says, step by step; silence leaves a hole."""
    soil = bed()
    return [record.value for step in range(steps) for record in one.read(soil, moment(step, **weather))]


def test_a_thermometer_says_the_truth_within_its_half_degree_in_sixteenths() -> None:
    said = values(stake(SOIL), 50)
    true_c = bed().temperature_c(0.10)
    assert all(abs(value - true_c) < 0.5 for value in said)
    assert all(value * 16 == int(value * 16) for value in said)
    assert len(set(said)) > 1  # it has noise


def test_two_showings_say_the_same() -> None:
    assert values(stake(SOIL), 20) == values(stake(SOIL), 20)


def test_a_silent_stake_says_nothing_while_it_lasts() -> None:
    one = stake(SOIL, BATTERY, faults=(Fault(Kind.SILENT, START_MS + 2 * STEP_MS, START_MS + 4 * STEP_MS),))
    soil = bed()
    assert [len(one.read(soil, moment(step))) for step in range(6)] == [2, 2, 0, 0, 2, 2]


def test_a_thermometer_read_too_early_says_85_now_and_then() -> None:
    said = values(stake(SOIL, faults=(Fault(Kind.RESET, 0, 1 << 60),)), 200)
    assert 5 < said.count(RESET_VALUE_C) < 60


def test_a_stuck_probe_repeats_its_last_value_and_the_other_probe_goes_on() -> None:
    one = stake(SOIL, MOISTURE, faults=(Fault(Kind.STUCK, START_MS + STEP_MS, 1 << 60, "t10"),))
    soil = bed()
    said = [one.read(soil, moment(step)) for step in range(40)]
    assert len({records[0].value for records in said}) == 1
    assert len({records[1].value for records in said}) > 1


def test_a_stake_in_the_air_says_the_airs_temperature_and_no_moisture() -> None:
    one = stake(SOIL, MOISTURE, faults=(Fault(Kind.DUG_UP, 0, 1 << 60),))
    temperature, moisture = one.read(bed(), moment(0))
    assert temperature.value == pytest.approx(25.0, abs=0.5)
    assert moisture.value == pytest.approx(0.0, abs=0.02)


def test_a_battery_runs_down() -> None:
    said = values(stake(BATTERY, volts_per_day=0.01), 144 * 10)
    assert said[0] - said[-1] == pytest.approx(0.1, abs=0.03)


def test_rain_comes_in_whole_tips_and_none_is_lost() -> None:
    said = values(stake(RAIN), 30, rain_mm=0.05)
    assert set(said) == {0.0, 0.2}
    assert sum(said) == pytest.approx(30 * 0.05, abs=0.2)


def test_a_pack_is_senml_that_our_own_decoder_reads_back() -> None:
    records = [Record("ow:28aa", "Cel", 17.125, START_MS), Record("ow:28aa", "Cel", 17.1875, START_MS + STEP_MS)]
    assert [(m.address, m.unit, m.value, m.measured_ms) for m in senml.decode(pack(records))] == [
        ("urn:dev:ow:28aa", "Cel", 17.125, START_MS),
        ("urn:dev:ow:28aa", "Cel", 17.1875, START_MS + STEP_MS),
    ]


def test_a_pack_names_base_and_time_once() -> None:
    records = [Record("ow:28aa", "Cel", 0.0, START_MS), Record("ow:28aa", "Cel", 1.5, START_MS + STEP_MS)]
    assert json.loads(pack(records)) == [
        {"bn": "urn:dev:", "bt": START_MS // 1000, "n": "ow:28aa", "u": "Cel", "v": 0.0},
        {"n": "ow:28aa", "u": "Cel", "v": 1.5, "t": 600},
    ]
