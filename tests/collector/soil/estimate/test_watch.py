"""A stake dug up and a probe that fails: found where they are put in, and not where nothing is wrong."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from collector.decode import senml
from collector.simulate.bed import SimulatedBed
from collector.simulate.probes import Fault, Kind, SimulatedStake, pack
from collector.simulate.scenario import demo_scenario
from collector.simulate.weather import weather
from collector.soil.estimate.dug_up import DugUp, dug_up
from collector.soil.estimate.failing import Failing, failing_probes
from collector.soil.estimate.season import Thermometer
from collector.units import Quantity
from tests.collector.soil.estimate.ground import DAY_MS, HOUR_MS, changed, stake, times_ms

DEPTHS_M = (0.05, 0.10, 0.20, 0.40)
TEN_MINUTES_MS = 600_000


def air(time_ms: np.ndarray) -> Thermometer:
    """Air that is 6 K warmer by day and colder by night than the mean of the soil."""
    return Thermometer(0.0, time_ms, 15.0 + 12.0 * np.sin(2 * np.pi * time_ms / DAY_MS + 0.4))


def out_of_the_soil(thermometers: list[Thermometer], first_ms: int, end_ms: int, lag_ms: int = 0) -> list[Thermometer]:
    """The same stake, lying in the air for a while; with a lag, its metal takes so long to come to the air's temperature."""
    result = []
    for one in thermometers:
        out = (one.time_ms >= first_ms) & (one.time_ms < end_ms)
        share = 1.0 if lag_ms == 0 else 1.0 - np.exp(-(one.time_ms - first_ms + lag_ms / 2) / lag_ms)
        in_air_c = one.value_c + share * (air(one.time_ms).value_c - one.value_c)
        result.append(changed(one, np.where(out, in_air_c, one.value_c)))
    return result


# ------------------------------------------------------------ dug up


@pytest.mark.parametrize("every_ms", [TEN_MINUTES_MS, HOUR_MS])
@pytest.mark.parametrize("air_known", [True, False])
def test_a_stake_in_the_air_is_found_from_its_first_reading_there_to_its_first_back(every_ms, air_known):
    time_ms = times_ms(8, every_ms)
    first_ms, end_ms = 5 * DAY_MS + 5 * HOUR_MS, 5 * DAY_MS + 9 * HOUR_MS
    thermometers = out_of_the_soil(stake(DEPTHS_M, time_ms), first_ms, end_ms)
    assert dug_up(thermometers, air(time_ms) if air_known else None) == [DugUp(first_ms, end_ms)]


def test_a_stake_whose_metal_is_slow_to_warm_is_found_within_the_hour():
    time_ms = times_ms(8, TEN_MINUTES_MS)
    first_ms = 5 * DAY_MS + 6 * HOUR_MS
    found = dug_up(out_of_the_soil(stake(DEPTHS_M, time_ms), first_ms, first_ms + 4 * HOUR_MS, lag_ms=20 * 60_000), air(time_ms))
    assert len(found) == 1
    assert first_ms <= found[0].first_ms <= first_ms + HOUR_MS


def test_a_stake_that_is_still_out_has_no_end():
    time_ms = times_ms(5.5, TEN_MINUTES_MS)
    first_ms = 5 * DAY_MS + 5 * HOUR_MS
    found = dug_up(out_of_the_soil(stake(DEPTHS_M, time_ms), first_ms, 9 * DAY_MS)[:3], air(time_ms))
    assert found == [DugUp(first_ms, None)]


def test_soil_alone_is_never_called_dug_up():
    time_ms = times_ms(30)
    assert dug_up(stake(DEPTHS_M, time_ms), air(time_ms)) == []
    assert dug_up(stake(DEPTHS_M, time_ms)) == []


def test_one_depth_that_leaps_is_no_stake_in_the_air():
    time_ms = times_ms(8)
    thermometers = stake(DEPTHS_M, time_ms)
    leaping_c = np.where((time_ms > 5 * DAY_MS) & (time_ms < 5 * DAY_MS + 6 * HOUR_MS), 35.0, thermometers[2].value_c)
    assert dug_up([*thermometers[:2], changed(thermometers[2], leaping_c), thermometers[3]]) == []


def test_a_stake_with_one_probe_is_never_called_dug_up():
    time_ms = times_ms(8)
    assert dug_up(out_of_the_soil(stake((0.1,), time_ms), 5 * DAY_MS, 6 * DAY_MS), air(time_ms)) == []
    assert dug_up([]) == []


def test_a_cold_rain_that_sinks_in_is_not_called_dug_up_where_the_air_is_known():
    """Water takes 2.5 K from 5 cm and 1.8 K from 10 cm within the hour, and the soil comes back over a day; the air is warmer."""
    time_ms = times_ms(8)
    first_ms = 5 * DAY_MS + 15 * HOUR_MS
    back = np.where(time_ms >= first_ms, np.exp(-np.maximum(time_ms - first_ms, 0) / DAY_MS), 0.0)
    cooled_k = (2.5, 1.8, 0.5, 0.0)
    thermometers = [
        changed(one, one.value_c - cooling_k * back) for one, cooling_k in zip(stake(DEPTHS_M, time_ms), cooled_k, strict=True)
    ]
    warm = Thermometer(0.0, time_ms, np.full(time_ms.size, 26.0))
    assert dug_up(thermometers, warm) == []


def test_the_stake_that_is_dug_up_in_the_simulated_garden_is_found():
    """Eleven days of the demo's kiln bed, with its mulch, sun, rain and steps of 1/16 °C; out for three hours in the seventh."""
    scenario = demo_scenario()
    bed = scenario.beds[0]
    first = dt.date(2026, 3, 1)
    first_ms = int(dt.datetime.combine(first, dt.time(), dt.UTC).timestamp()) * 1000
    begins_ms, ends_ms = first_ms + 7 * DAY_MS + 7 * HOUR_MS, first_ms + 7 * DAY_MS + 10 * HOUR_MS
    probes = bed.probes_of(Quantity.SOIL_TEMPERATURE)
    ground = SimulatedStake("stake", probes, [Fault(Kind.DUG_UP, begins_ms, ends_ms)], 4.1, 0.001)
    soil = SimulatedBed(bed, scenario.climate, first)
    said: dict[str, list[tuple[int, float]]] = {probe.address: [] for probe in probes}
    air_said: list[tuple[int, float]] = []
    for moment in weather(scenario.climate, first, 11, (), 5).moments():
        soil.pass_time(moment)
        air_said.append((moment.time_ms, moment.air_c))
        for one in senml.decode(pack(ground.read(soil, moment))):
            said[one.address].append((moment.time_ms, one.value))
    thermometers = [_thermometer(probe.depth_m or 0.0, said[probe.address]) for probe in probes]
    found = dug_up(thermometers, _thermometer(0.0, air_said))
    assert len(found) == 1
    assert begins_ms <= found[0].first_ms <= begins_ms + HOUR_MS
    # air that passes through the soil's temperature looks like soil for a while
    assert found[0].end_ms == pytest.approx(ends_ms, abs=HOUR_MS)


def _thermometer(depth_m: float, said: list[tuple[int, float]]) -> Thermometer:
    return Thermometer(depth_m, np.array([at for at, _ in said]), np.array([value for _, value in said]))


# ------------------------------------------------------------ failing


def faulty(probe: int, change) -> list[Thermometer]:
    """Forty days of a stake, one probe of it going wrong from day 25 on."""
    time_ms = times_ms(40)
    thermometers = stake(DEPTHS_M, time_ms)
    days_after = np.maximum((time_ms - 25 * DAY_MS) / DAY_MS, 0.0)
    thermometers[probe] = changed(thermometers[probe], change(thermometers[probe].value_c, days_after))
    return thermometers


def test_nothing_fails_where_nothing_is_wrong():
    assert failing_probes(stake(DEPTHS_M, times_ms(40))) == []


@pytest.mark.parametrize("probe", [1, 2, 3])
def test_a_probe_whose_offset_grows_is_found_and_it_alone(probe):
    found = failing_probes(faulty(probe, lambda value_c, days: value_c + 0.5 * days))
    assert {(one.probe, one.how) for one in found} == {(probe, Failing.DRIFTS)}
    assert 25 * DAY_MS < found[0].first_ms < 33 * DAY_MS


def test_a_probe_that_jumps_about_is_found_and_it_alone():
    luck = np.random.default_rng(8)
    found = failing_probes(faulty(2, lambda value_c, days: value_c + np.where(days > 0, luck.normal(0, 1.0, days.size), 0.0)))
    assert {(one.probe, one.how) for one in found} == {(2, Failing.SCATTERS)}
    assert found[0].first_ms == 25 * DAY_MS


def test_a_probe_that_says_the_same_all_day_while_the_soil_moves_is_stuck():
    found = failing_probes(faulty(1, lambda value_c, days: np.where(days > 0, 14.0, value_c)))
    stuck = [one for one in found if one.how is Failing.STUCK]
    assert [one.probe for one in stuck] == [1]
    assert stuck[0].first_ms == 26 * DAY_MS  # the first hour of day 25 still said something else
    assert {one.probe for one in found} == {1}


def test_deep_soil_that_hardly_moves_is_not_called_stuck():
    time_ms = times_ms(20)
    deep = [changed(one, np.round(one.value_c * 2) / 2) for one in stake((0.40, 0.80, 1.20), time_ms, noise_k=0.0)]
    assert [one for one in failing_probes(deep) if one.how is Failing.STUCK] == []


def test_with_two_probes_neither_is_called_failing():
    assert failing_probes(faulty(2, lambda value_c, days: value_c + 0.5 * days)[1:3]) == []
    assert failing_probes([]) == []
    nothing = Thermometer(0.1, np.array([], dtype=np.int64), np.array([]))
    assert failing_probes([nothing, nothing, nothing]) == []
