"""What the soil's functions make of input that is wrong, or missing: a clear refusal, or a stated answer; never a wrong number.

Input that cannot be is refused, in words that tell what was got and what is wanted. What is odd but can be has the answer
that the docstring states. What NaN does to the formulas stands in test_not_known.py.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from collector.soil import (
    covers,
    crop_coefficient,
    depth_order,
    diffusivity,
    dry_down,
    exposure,
    ground,
    heat,
    modes,
    root_zone,
    thermal,
    water,
    wetting,
    what_if,
)
from collector.soil import demand as wanted
from collector.soil import evapotranspiration as et
from collector.soil import radiation as r
from collector.soil.arrays import within
from collector.soil.estimate import dug_up, failing, filter, season
from collector.soil.forecast import banks, drives, inputs, model
from collector.soil.profile import profile_of
from tests.collector.soil.can_be import CAN_BE
from tests.collector.soil.forecast import made

NAN = math.nan
HOUR_MS = inputs.HOUR_MS
HOURS = made.START_MS + HOUR_MS * np.arange(72, dtype=np.int64)

# ---------------------------------------------------------------- what cannot be is refused

COLUMN = heat.Column(*heat.cells_m([0.05], 1.0), *(np.ones(heat.cells_m([0.05], 1.0)[0].size) for _ in range(2)))
N = COLUMN.depth_m.size
MODES = modes.modes_of(COLUMN, 10.0, False)
ZONE = root_zone.RootZone(0.3, 0.1, 0.3)
AIR = made.weather(40)
NOW_MS = made.START_MS + 30 * 24 * HOUR_MS
EXPOSED = exposure.exposure_of(AIR, made.SITE, NOW_MS, 24)
TODAY = what_if.today_of(ground.Ground("loam", 0.2, (("straw", 0.05),)), EXPOSED)
FITTED = model.fit([made.record(AIR, 0.1)], AIR, made.SITE, 0.1, NOW_MS)
STAKE = [season.Thermometer(depth_m, HOURS, np.full(72, 20.0)) for depth_m in (0.05, 0.1, 0.2)]
WET = np.full((72, 2), 0.25)
NOTHING = np.empty(0)
NO_TIMES = np.empty(0, dtype=np.int64)


def of(function: Callable[..., Any], **changed: Any) -> Callable[[], Any]:
    """The call that can be, with something changed that cannot."""
    return lambda: function(**{**CAN_BE[function], **changed})


REFUSED: dict[str, tuple[Callable[[], Any], str]] = {
    # covers and columns
    "a cover thinner than nothing": (lambda: heat.cells_m([-0.01], 1.0), r"covers_m is \[-0.01\]; want"),
    "a cover of no known thickness": (lambda: heat.cells_in_cover(NAN), r"cover_m is nan; want 0 or more"),
    "a cell of no thickness": (
        lambda: heat.Column(np.array([0.1]), np.array([0.0]), np.ones(1), np.ones(1)), r"thickness_m is \[0.\]; want 1 finite",
    ),
    "cells in another order": (
        lambda: heat.Column(np.array([0.2, 0.1]), np.ones(2), np.ones(2), np.ones(2)), "from the top downward",
    ),
    "a column of no cells": (lambda: heat.Column(NOTHING, NOTHING, NOTHING, NOTHING), "want the middles of one cell or more"),
    "a conductivity that is NaN": (
        lambda: heat.Column(np.array([0.1]), np.ones(1), np.array([NAN]), np.ones(1)), "conductivity_w_m_k is .*; want 1 finite",
    ),
    "as many temperatures as other cells": (
        lambda: heat.step_c(COLUMN, np.zeros(3), heat.Surface(20.0, 10.0), None, 60.0), "before_c has shape",
    ),
    "a conductance that is NaN": (
        lambda: heat.step_c(COLUMN, np.zeros(N), heat.Surface(20.0, NAN), None, 60.0), "conductance_w_m2_k is nan; want 0",
    ),
    "a depth below the column": (lambda: heat.temperature_at_c(COLUMN, np.zeros(N), 1.2), "the column goes from -0.050 to 1.000"),
    "a depth that is NaN": (lambda: heat.temperature_at_c(COLUMN, np.zeros(N), NAN), "depth_m is nan; the column goes from"),
    "an unknown material": (lambda: covers.material_of("gravel"), "'gravel' is not known; want one of"),
    "a wind below 0 through straw": (of(covers.cover_conductivity_w_m_k, wind_m_s=-1.0), "wind_m_s is -1.0; want 0 to 100"),
    "a wind below 0 over a bed": (of(heat.surface_of, wind_m_s=-1.0), "wind_m_s is -1.0; want 0 to 100"),
    "an albedo above 1": (of(heat.surface_of, albedo=1.2), "albedo is 1.2; want 0 to 1"),
    # modes
    "a season in steps of no length": (
        lambda: modes.follow_c(MODES, np.zeros(N), modes.held(np.zeros(4)), None, 0.0), "step_s is 0.0; want more than 0",
    ),
    "a start of other cells": (
        lambda: modes.follow_c(MODES, np.zeros(3), modes.held(np.zeros(4)), None, 60.0), "start_c has shape",
    ),
    "two courses of other lengths": (
        lambda: modes.follow_c(MODES, np.zeros(N), modes.held(np.zeros(4)), modes.held(np.zeros(3)), 60.0), "courses have shapes",
    ),
    # soils
    "a soil denser than its minerals": (
        of(thermal.porosity_m3_m3, bulk_density_kg_m3=2700.0), "bulk_density_kg_m3 is 2700.0; want",
    ),
    "water below nothing": (of(thermal.campbell_conductivity_w_m_k, water_m3_m3=-0.1), "water_m3_m3 is -0.1; want 0 to 1"),
    "water in percent": (
        of(thermal.heat_capacity_j_m3_k, water_m3_m3=np.array([0.2, 20.0])), "water_m3_m3 holds 20.0; want 0 to 1",
    ),
    "no clay at all": (of(thermal.campbell_conductivity_w_m_k, clay_fraction=0.0), "clay_fraction is 0.0; want above 0"),
    "a diffusivity below 0": (of(thermal.damping_depth_m, diffusivity_m2_s=-1e-7), "diffusivity_m2_s is -1e-07; want 0"),
    # sky and air
    "a latitude beyond the pole": (of(r.sunset_hour_angle_rad, latitude_deg=91.0), "latitude_deg is 91.0; want -90 to 90"),
    "a latitude beyond the pole, for its sun": (of(r.extraterrestrial_mj_m2_d, latitude_deg=-95.0), "latitude_deg is -95.0"),
    "day 0 of the year": (of(r.solar_declination_rad, day_of_year=0.0), "day_of_year is 0.0; want 1 to 366"),
    "a sunshine below 0": (of(r.solar_from_sunshine_mj_m2_d, sunshine_h=-1.0), "sunshine_h is -1.0; want 0 to 24"),
    "a highest temperature below the lowest": (
        of(et.hargreaves_mm_d, highest_c=10.0), "highest_c less lowest_c is -2.0; want 0",
    ),
    "the same, for the sun by them": (of(r.solar_from_temperature_mj_m2_d, highest_c=10.0), "highest_c less lowest_c is -2.0"),
    "a vapour pressure below 0": (of(r.net_longwave_mj_m2_h, vapour_kpa=-0.1), "vapour_kpa is -0.1; want 0"),
    "a humidity of 110 %": (of(et.vapour_pressure_by_mean_humidity_kpa, mean_pct=110.0), "mean_pct is 110.0; want 0 to 100"),
    "a wet bulb above the dry one": (of(et.vapour_pressure_by_wet_bulb_kpa, wet_c=26.0), "dry_c less wet_c is -1.0; want 0"),
    "a temperature in kelvin": (of(et.saturation_vapour_pressure_kpa, air_c=293.15), "air_c is 293.15; want -100 to 100"),
    "an elevation beyond the air": (of(et.atmospheric_pressure_kpa, elevation_m=50_000.0), "elevation_m is 50000.0; want -500"),
    "a wind gauge in the grass": (of(et.wind_at_2m_m_s, height_m=0.05), "height_m is 0.05; want more than 0.1"),
    "a place beyond the pole": (lambda: inputs.Site(90.5, 0.0, 0.0), "latitude_deg is 90.5; want -90 to 90"),
    "a place that is NaN": (lambda: inputs.Site(NAN, 0.0, 0.0), "latitude nan.*want numbers"),
    # water
    "a wilting point above field capacity": (lambda: root_zone.RootZone(0.1, 0.3, 0.3), "want 0 <= wilting < capacity"),
    "roots of no depth": (lambda: root_zone.RootZone(0.3, 0.1, 0.0), "root_depth_m is 0.0; want more than 0"),
    "a demand below 0": (of(root_zone.pass_step, demand_mm=-1.0), "demand -1.0 mm.*want 0 or more"),
    "a rain that is NaN in a daily balance": (of(water.balance_day, rain_mm=NAN), "rain nan.*not known"),
    "a soil that holds nothing": (of(water.stress_coefficient, taw_mm=0.0), "taw_mm is 0.0; want more than 0"),
    "all water without stress": (of(water.stress_coefficient, p=1.0), "p is 1.0; want 0 to 0.999"),
    "a depletion that fills no bed": (of(water.refill_litres, depletion_mm=-3.0), "depletion_mm is -3.0; want 0"),
    "a stage of no length": (
        of(crop_coefficient.stage_coefficient, lengths_d=(0.0, 1.0, 1.0, 1.0)), "want four lengths above 0 days",
    ),
    "more than all covered": (of(crop_coefficient.mulched_coefficient, cover=1.5), "cover is 1.5; want 0 to 1"),
    "two moisture probes at one depth": (
        lambda: root_zone.probe_weights([0.1, 0.1], 0.3), r"depths_m is \[0.1, 0.1\]; want .* ascending",
    ),
    "moisture probes from below upward": (lambda: root_zone.probe_weights([0.3, 0.1], 0.3), "ascending"),
    "no moisture probe": (lambda: root_zone.probe_weights([], 0.3), "want one depth or more"),
    "a table without its column": (
        lambda: root_zone.measured_depletion_mm(ZONE, [0.1, 0.2], WET[:, :1]), r"shape \(72, 1\); want times by 2 depths",
    ),
    "times of a dry-down out of order": (
        lambda: dry_down.fit(ZONE, HOURS[::-1], [0.1, 0.2], WET, np.full(72, 0.2)), "ascending, evenly spaced",
    ),
    "a dry-down of which nothing was read": (
        lambda: dry_down.fit(ZONE, HOURS, [0.1, 0.2], WET * NAN, np.full(72, 0.2)), "moisture holds no reading",
    ),
    "no times at all": (lambda: wanted.reference_by_air_mm(NO_TIMES, 40.0, 0.0, NOTHING), "time_ms of 0 times: want two or more"),
    "the demand beyond the pole": (
        lambda: wanted.reference_by_air_mm(HOURS, 99.0, 0.0, np.full(72, 20.0)), "latitude 99.0; want as many, -90 to 90",
    ),
    "a negative rain": (lambda: wanted.amounts_mm(np.full(72, -1.0), HOURS, "rain_mm"), "rain_mm holds -1.0; want 0 or more"),
    "wet readings out of order": (lambda: wetting.answers(HOURS[::-1], [0.1, 0.2], WET, int(HOURS[30])), "does not ascend"),
    "no wet readings": (lambda: wetting.answers(NO_TIMES, [0.1], np.empty((0, 1)), 0), "want readings of the 12 h before"),
    "fronts out of order": (lambda: wetting.fronts(HOURS[::-1], WET[:, 0]), "does not ascend"),
    # diffusivity
    "two depths that are one": (of(diffusivity.log_diffusivity_m2_s, spacing_m=0.0), "spacing_m is 0.0; want"),
    "three readings of a day": (of(diffusivity.log_diffusivity_m2_s, upper_c=(1.0, 2.0, 3.0)), "3 and 4 readings; want four"),
    # estimate
    "a thermometer out of order": (lambda: season.Thermometer(0.1, HOURS[::-1], np.full(72, 20.0)), "want them sorted"),
    "a thermometer of another length": (lambda: season.Thermometer(0.1, HOURS, np.full(3, 20.0)), "3"),
    "a thermometer below the column": (lambda: filter.Estimator([0.1, 2.0]), "leave out"),
    "a thermometer at no known depth": (lambda: filter.Estimator([NAN]), "leave out"),
    "no thermometers": (lambda: filter.Estimator([]), "want one or more depths"),
    "a history out of order": (lambda: season.history(STAKE, HOURS[::-1], np.array([0.1])), "does not ascend"),
    "a history below the column": (lambda: season.history(STAKE, HOURS, np.array([1.8])), "want depths from 0 to 1.5"),
    # forecast
    "a record below the column": (
        lambda: model.fit([made.record(AIR, 0.1)], AIR, made.SITE, 2.5, NOW_MS), "depth_m is 2.5; want 0 to",
    ),
    "a forecast at no known depth": (lambda: model.fit([made.record(AIR, 0.1)], AIR, made.SITE, NAN, NOW_MS), "depth_m is nan"),
    "a forecast from no thermometer": (lambda: model.fit([], AIR, made.SITE, 0.1, NOW_MS), "no reading for 10 cm"),
    "a forecast of no hours": (lambda: model.forecast(FITTED, AIR, 0), "hours is 0; want 1 to 168"),
    "a record of two lengths": (lambda: inputs.Record(0.1, HOURS, np.zeros(3)), "72 times and 3 temperatures"),
    "a record at no known depth": (lambda: inputs.Record(NAN, HOURS, np.zeros(72)), "thermometer at nan m"),
    "a weather of two lengths": (lambda: inputs.Weather(HOURS, {inputs.AIR_C: np.zeros(3)}), "has 3 values, time_ms 72"),
    "a grid of no hours": (lambda: inputs.hours_of(HOURS, np.zeros(72), NO_TIMES), "grid_ms of 0 times; want one hour or more"),
    "a grid out of order": (
        lambda: inputs.hourly_means(HOURS, np.zeros(72), HOURS[::-1]), "each 3600000 ms after the one before",
    ),
    "weather on no grid": (lambda: drives.past_weather(AIR, NO_TIMES, made.SITE), "grid_ms of 0 times"),
    "a climate of no days": (lambda: drives.climate_of(np.zeros(5), 24), "5 hours of weather; want a day"),
    "drives with gaps": (lambda: banks.filter_bank(np.full((48, 1), NAN), [40], 24), "none of them NaN"),
    "an origin after the drives": (lambda: banks.heat_bank(np.zeros((48, 1)), [60], 24, 0.1), r"origins \[60\] are not all rows"),
    # what if
    "a cloth that takes more than all": (
        lambda: what_if.difference_k(TODAY, what_if.Cloth(1.2), 0.1), "cloth is 1.2; want the share",
    ),
    "a cloth that is NaN": (lambda: what_if.difference_k(TODAY, what_if.Cloth(NAN), 0.1), "cloth is nan"),
    "an unknown mulch": (lambda: what_if.difference_k(TODAY, what_if.Covers((("gravel", 0.1),)), 0.1), "'gravel' is not known"),
    "a mulch thinner than nothing": (
        lambda: what_if.difference_k(TODAY, what_if.Covers((("straw", -0.1),)), 0.1), "-0.1 m thick",
    ),
    "a mulch of no known thickness": (lambda: what_if.difference_k(TODAY, what_if.Covers((("straw", NAN),)), 0.1), "nan m thick"),
    "a planting below the column": (
        lambda: what_if.difference_k(TODAY, what_if.PlantingDepth(2.0), 0.1), "want one or more, each 0 to 1.5",
    ),
    "a depth in the air": (lambda: what_if.difference_k(TODAY, what_if.Cloth(0.5), -0.1), "want one or more, each 0 to 1.5"),
    "no depths": (lambda: what_if.profile_difference_k(TODAY, what_if.Cloth(0.5), []), "want one or more"),
    "a watering that takes away": (
        lambda: what_if.difference_k(TODAY, what_if.Watering(-5.0), 0.1), "amount_mm is -5.0; want 0 or more",
    ),
    "an unknown soil": (lambda: ground.Ground("peat", 0.2), "texture 'peat' is not known; want one of"),
    "a soil wetter than its pores": (lambda: ground.Ground("loam", 0.7), "water_m3_m3 is 0.7; want above 0, up to the 0.51"),
    "a soil of no known water": (lambda: ground.Ground("loam", NAN), "water_m3_m3 is nan"),
    "a diffusivity in mm²/s": (
        lambda: ground.Ground("loam", 0.2, diffusivity_m2_s=0.5), "diffusivity_m2_s is 0.5; soils have about",
    ),
    "a thermometer deeper than the model": (
        lambda: what_if.today_of(TODAY.ground, EXPOSED, profile_of([(0.1, 20.0), (2.0, 15.0)])), "each 0 to 1.5",
    ),
    "nothing to come": (lambda: exposure.exposure_of(AIR, made.SITE, NOW_MS, 0), "hours is 0; want 1 or more"),
    "a profile of what is not known": (lambda: profile_of([(0.1, NAN)]), "want two finite numbers; leave missing readings out"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_cannot_be_is_refused_in_words(what: str) -> None:
    call, words = REFUSED[what]
    with pytest.raises(ValueError, match=words):
        call()


# ---------------------------------------------------------------- what is odd has its answer


def test_a_cover_of_no_thickness_is_no_cover_and_does_not_reflect() -> None:
    bare, none = (ground.Ground("loam", 0.2, laid) for laid in ((), (("straw", 0.0),)))
    assert none.albedo == bare.albedo == covers.BARE_SOIL_ALBEDO
    assert np.array_equal(ground.column_of(none, 2.0, 0.0).depth_m, ground.column_of(bare, 2.0, 0.0).depth_m)
    # of too few readings there is no wave, and of one that is not known no order
    few_ms, few_c = np.arange(3, dtype=np.int64) * 3_600_000, np.array([1.0, np.nan, 2.0])
    assert diffusivity.harmonics_k(few_ms, few_c, 1) is None
    assert depth_order.swapped([few_ms, few_ms], [few_c, few_c]) is None
    # what was learned of a bed is its diffusivity; a wetter loam, and one of no covers, have one of soils
    assert ground.diffusivity_m2_s(ground.Ground("loam", 0.2, diffusivity_m2_s=5e-7)) == pytest.approx(5e-7)
    assert 1e-7 < ground.diffusivity_m2_s(none) < 1e-6


def test_a_temperature_that_is_not_known_makes_the_whole_column_unknown() -> None:
    before_c = np.full(N, 20.0)
    before_c[3] = NAN
    assert np.isnan(heat.step_c(COLUMN, before_c, heat.Surface(20.0, 10.0), None, 600.0)).all()
    assert np.isnan(heat.step_c(COLUMN, np.full(N, 20.0), heat.Surface(NAN, 10.0), None, 600.0)).all()
    assert np.isnan(modes.follow_c(MODES, before_c, modes.held(np.full(4, 20.0)), None, 600.0)).all()
    gap = modes.held(np.array([20.0, 20.0, NAN, 20.0, 20.0, 20.0, 20.0]))
    after_c = modes.follow_c(MODES, np.full(N, 20.0), gap, None, 600.0)
    assert after_c[:2] == pytest.approx(20.0)
    assert np.isnan(after_c[2:]).all()


def test_no_steps_give_no_rows() -> None:
    assert modes.follow_c(MODES, np.full(N, 20.0), modes.held(NOTHING), None, 600.0).shape == (0, N)


# The sun of a whole day above the atmosphere, hour by hour or at once: FAO-56, eq. 21 and 28, must agree anywhere on earth.
@pytest.mark.parametrize("latitude_deg", [-90.0, -80.0, -66.0, -40.0, 0.0, 40.0, 62.0, 66.0, 70.0, 85.0, 90.0])
@pytest.mark.parametrize("day_of_year", [1.0, 80.0, 172.0, 200.0, 266.0, 355.0])
def test_the_hours_of_a_day_add_up_to_it_also_where_the_sun_stays_up_or_down(latitude_deg: float, day_of_year: float) -> None:
    whole = r.extraterrestrial_mj_m2_d(latitude_deg, day_of_year)
    assert 0.0 <= whole + 1e-9 < 60.0
    for begin in (-np.pi, -3.0):  # also where an hour lies across midnight
        angles_rad = (begin + np.pi / 24.0 + np.arange(24) * np.pi / 12.0 + np.pi) % (2.0 * np.pi) - np.pi
        hours = r.extraterrestrial_mj_m2_span(latitude_deg, np.full(24, day_of_year), angles_rad, 1.0)
        assert hours.min() >= -1e-9
        assert hours.sum() == pytest.approx(whole, abs=1e-9)


def test_polar_day_and_night_are_24_hours_and_none() -> None:
    assert r.daylight_hours(80.0, 172.0) == pytest.approx(24.0)
    assert r.daylight_hours(80.0, 355.0) == 0.0
    assert r.extraterrestrial_mj_m2_d(80.0, 355.0) == pytest.approx(0.0, abs=1e-12)
    assert r.solar_from_sunshine_mj_m2_d(0.0, 0.0, 0.0) == 0.0
    assert r.solar_from_sunshine_mj_m2_d(np.zeros(2), np.zeros(2), np.array([0.0, NAN]))[0] == 0.0


def test_below_the_range_of_hargreaves_nothing_evaporates() -> None:
    assert et.hargreaves_mm_d(10.0, -25.0, -35.0) == 0.0


@pytest.mark.parametrize("latitude_deg", [-85.0, 85.0])
def test_a_bed_in_the_polar_night_gets_a_forecast_and_no_effect_of_a_cloth_by_day(latitude_deg: float) -> None:
    site = inputs.Site(latitude_deg, 0.0, 10.0)
    # in May the sun is up all day in the north, and down in the south
    dark = latitude_deg < 0
    weather = inputs.Weather(AIR.time_ms, {**AIR.columns, inputs.SUN_W_M2: AIR.columns[inputs.SUN_W_M2] * (not dark)})
    fitted = model.fit([made.record(AIR, 0.1)], weather, site, 0.1, NOW_MS)
    for table in (weather, inputs.Weather()):
        ahead = model.forecast(fitted, table, 168)
        assert np.isfinite([ahead.low_c, ahead.mean_c, ahead.high_c]).all()
        assert (ahead.low_c < ahead.high_c).all()
    no_sun = exposure.exposure_of(weather, site, NOW_MS, 48)
    effect_k = what_if.difference_k(what_if.today_of(TODAY.ground, no_sun), what_if.Cloth(0.5), 0.05)
    assert (effect_k.max() <= 1e-9) is not dark


def test_readings_out_of_order_make_the_same_forecast_as_in_order() -> None:
    record, shuffled = made.record(AIR, 0.1), np.random.default_rng(5).permutation(AIR.time_ms.size)
    mixed = inputs.Record(0.1, record.time_ms[shuffled], record.temperature_c[shuffled])
    weather = inputs.Weather(AIR.time_ms[shuffled], {name: values[shuffled] for name, values in AIR.columns.items()})
    again = model.fit([mixed], weather, made.SITE, 0.1, NOW_MS)
    assert model.forecast(again, weather, 168).mean_c == pytest.approx(model.forecast(FITTED, AIR, 168).mean_c, abs=1e-9)


def test_two_thermometers_at_one_depth_count_as_their_mean() -> None:
    record = made.record(AIR, 0.1)
    two = [inputs.Record(0.1, record.time_ms, record.temperature_c + off_k) for off_k in (-0.4, 0.4)]
    both = model.fit(two, AIR, made.SITE, 0.1, NOW_MS)
    assert model.forecast(both, AIR, 48).mean_c == pytest.approx(model.forecast(FITTED, AIR, 48).mean_c, abs=1e-9)
    assert profile_of([(0.1, 19.6), (0.1, 20.4)]) == profile_of([(0.1, 20.0)])
    estimator = filter.Estimator([0.1, 0.1])
    for time_ms in HOURS.tolist():
        estimator.hear(time_ms, np.array([19.6, 20.4]))
    known = estimator.estimate(int(HOURS[-1]))
    assert known is not None
    at = known.at(0.1)
    assert at is not None
    assert at.value == pytest.approx(20.0, abs=0.1)


def test_what_is_silent_gets_no_answer() -> None:
    silent = [season.Thermometer(depth_m, NO_TIMES, NOTHING) for depth_m in (0.05, 0.1, 0.2)]
    assert season.temperatures_at(silent, int(HOURS[-1])) is None
    assert dug_up.dug_up(silent) == []
    assert failing.failing_probes(silent) == []
    assert season.moments_of(silent).time_ms.size == 0
    assert profile_of([]) is None
    assert np.isnan(inputs.hours_of(NO_TIMES, NOTHING, HOURS)).all()
    assert np.isnan(inputs.hourly_means(NO_TIMES, NOTHING, HOURS)).all()
    assert wetting.fronts(NO_TIMES, NOTHING) == ()
    assert math.isnan(diffusivity.harmonic_diffusivity_m2_s(NO_TIMES, NOTHING, NOTHING, 0.05))


def test_readings_that_are_not_known_are_left_out_and_none_is_no_profile() -> None:
    holed = np.full((72, 3), 20.0)
    holed[::2, 1] = NAN
    stake = [season.Thermometer(depth_m, HOURS, holed[:, k]) for k, depth_m in enumerate((0.05, 0.1, 0.2))]
    told = season.temperatures_at(stake, int(HOURS[-1]))
    assert told is not None
    at = told.at(0.1)
    assert at is not None
    assert at.value == pytest.approx(20.0, abs=0.05)
    assert told.at(NAN) is None
    assert told.at(1.8) is None


def test_heat_sums_take_a_day_that_is_not_known_for_none() -> None:
    highest_c, lowest_c = np.array([20.0, NAN, 20.0]), np.array([10.0, 10.0, 10.0])
    assert crop_coefficient.heat_sum_k_d(highest_c, lowest_c).tolist() == [11.0, 11.0, 22.0]
    assert crop_coefficient.heat_sum_k_d(NOTHING, NOTHING).size == 0


def test_a_range_is_told_of_numbers_and_of_arrays_and_lets_pass_what_is_not_known() -> None:
    within("water", NAN, 0.0, 1.0, "m³/m³")
    within("water", np.array([NAN, 1.0, 0.0]), 0.0, 1.0, "m³/m³")
    within("water", NOTHING, 0.0, 1.0, "m³/m³")
    with pytest.raises(ValueError, match=r"water is 1.5; want 0 to 1 \[m³/m³\]"):
        within("water", 1.5, 0.0, 1.0, "m³/m³")
    with pytest.raises(ValueError, match=r"water holds -2.0; want 0 to 1 \[m³/m³\]"):
        within("water", np.array([NAN, 0.5, -2.0]), 0.0, 1.0, "m³/m³")
