"""The simulated bed keeps the books of water and behaves like soil."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from collector.model import Bed, Cover, Planting
from collector.simulate.bed import LAYER_ENDS_M, SimulatedBed
from collector.simulate.weather import STEP_MS, Climate, Moment

CLIMATE = Climate(35.0, 20.0, 50.0, year_mean_c=16.0, year_swing_k=7.0, warmest_day=210.0, day_swing_k=6.0)
FIRST = dt.date(2026, 4, 1)
START_MS = int(dt.datetime(2026, 4, 1, tzinfo=dt.UTC).timestamp() * 1000)
BED = Bed(
    id="one",
    name="One",
    area_m2=5.0,
    soil="loam",
    field_capacity=0.25,
    wilting_point=0.12,
    covers=(Cover("straw", 0.06),),
    plantings=(Planting("Any", 0.08, dt.date(2025, 11, 1)),),
)


def bed(**changes: object) -> SimulatedBed:
    return SimulatedBed(replace(BED, **changes), CLIMATE, FIRST)  # type: ignore[arg-type]


def moment(step: int, *, rain_mm: float = 0.0, eto_mm: float = 0.0) -> Moment:
    """Ten minutes of an equal clear day."""
    hour = (step % 144 + 0.5) / 6.0
    air_c = 16.0 - 6.0 * np.cos(2 * np.pi * (hour - 3.0) / 24.0)
    sun_w_m2 = 850.0 * max(0.0, -np.cos(2 * np.pi * hour / 24.0))
    return Moment(START_MS + (step + 1) * STEP_MS, air_c, sun_w_m2, 60.0, 1.5, rain_mm, 70.0, eto_mm)


def held_mm(one: SimulatedBed) -> float:
    """Water in the whole metre of layers, seen from outside: theta in the middle of a layer is the layer's."""
    ends = np.array(LAYER_ENDS_M)
    middles = (ends[1:] + ends[:-1]) / 2
    return sum(1000 * float(thick) * one.moisture_m3_m3(float(mid)) for thick, mid in zip(np.diff(ends), middles, strict=True))


def days(one: SimulatedBed, count: float, **weather: float) -> np.ndarray:
    """Temperatures at 5, 10, 20 and 40 cm over so many days, one row a step."""
    rows = []
    for step in range(int(count * 144)):
        one.pass_time(moment(step, **weather))
        rows.append([one.temperature_c(depth_m) for depth_m in (0.05, 0.10, 0.20, 0.40)])
    return np.array(rows)


def test_the_daily_wave_grows_smaller_and_later_with_depth() -> None:
    last = days(bed(), 4)[-144:]
    swings = last.max(axis=0) - last.min(axis=0)
    assert list(swings) == sorted(swings, reverse=True)
    lags = np.argmax(last[:, :3], axis=0)
    assert lags[0] < lags[1] < lags[2]


def test_thicker_straw_makes_a_smaller_swing() -> None:
    swings = []
    for thick_m in (0.0, 0.03, 0.06, 0.12):
        last = days(bed(covers=(Cover("straw", thick_m),)), 3)[-144:, 1]
        swings.append(last.max() - last.min())
    assert swings == sorted(swings, reverse=True)


def test_a_cloth_cools_the_soil_and_taking_it_away_warms_it_again() -> None:
    bare, shaded = bed(), bed()
    shaded.lay_cloth(0.5)
    days(bare, 2), days(shaded, 2)
    cooler_k = bare.temperature_c(0.10) - shaded.temperature_c(0.10)
    assert cooler_k > 0.3
    shaded.lay_cloth(0.0)
    days(bare, 4), days(shaded, 4)
    assert 0.0 < bare.temperature_c(0.10) - shaded.temperature_c(0.10) < cooler_k


def test_litres_poured_are_in_the_soil_afterwards() -> None:
    one = bed()
    before_mm = held_mm(one)
    one.pour(50.0)
    one.pass_time(moment(0))
    assert held_mm(one) - before_mm == pytest.approx(50.0 / 5.0)


def test_water_that_drains_within_the_metre_is_not_lost() -> None:
    one = bed()
    one.pour(100.0)
    one.pass_time(moment(0))
    filled_mm = held_mm(one)
    top_before, below_before = one.moisture_m3_m3(0.025), one.moisture_m3_m3(0.175)
    days(one, 1)
    assert held_mm(one) == pytest.approx(filled_mm)
    assert one.moisture_m3_m3(0.025) < top_before
    assert one.moisture_m3_m3(0.175) > below_before


def test_watering_by_its_own_depletion_fills_the_root_zone() -> None:
    one = bed()
    assert one.depletion_mm > 5.0
    one.pour(one.depletion_mm * one.bed.area_m2)
    days(one, 3)
    assert one.depletion_mm < 2.0  # a little hangs in the uppermost layers still, or has gone just below the roots


def test_only_what_the_crop_and_the_air_take_leaves_a_bed_that_does_not_drain() -> None:
    one = bed()
    before_mm = held_mm(one)
    for step in range(144):
        one.pass_time(moment(step, eto_mm=4.0 / 144))
    lost_mm = before_mm - held_mm(one)
    assert 2.0 < lost_mm < 4.2  # Kc of garlic in April is near 1, less what drought already withholds


def test_theta_stays_between_half_the_wilting_point_and_full_pores_whatever_falls() -> None:
    wet, dry = bed(), bed()
    for step in range(6 * 144):
        wet.pass_time(moment(step, rain_mm=1.0))
        dry.pass_time(moment(step, eto_mm=8.0 / 144))
    for depth_m in (0.02, 0.08, 0.12, 0.18, 0.25, 0.5):
        assert 0.25 < wet.moisture_m3_m3(depth_m) < 0.51
        assert 0.06 <= dry.moisture_m3_m3(depth_m) < 0.25
    days(dry, 60, eto_mm=8.0 / 144)
    assert dry.depletion_mm <= 39.0
    assert dry.moisture_m3_m3(0.12) == pytest.approx(0.12, abs=0.01)


def test_straw_catches_a_drizzle_before_the_soil_gets_any() -> None:
    covered, bare = bed(), bed(covers=())
    before_mm = held_mm(covered), held_mm(bare)
    covered.pass_time(moment(0, rain_mm=0.5))
    bare.pass_time(moment(0, rain_mm=0.5))
    assert held_mm(covered) == pytest.approx(before_mm[0])
    assert held_mm(bare) == pytest.approx(before_mm[1] + 0.5)
