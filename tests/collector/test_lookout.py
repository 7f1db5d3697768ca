"""The lookout: from what the probes said to an outlook that is kept, each hour anew, and a part that fails alone."""

import numpy as np
import pytest

from collector.advice.foresight import learned_diffusivity_m2_s, means_of_24_h, watered_mm
from collector.calls import DoneMark, Job
from collector.forecaster import Forecaster
from collector.lookout import BED_REST_S, Lookout
from collector.soil.forecast.inputs import Record
from collector.soil.forecast.model import LONGEST_H
from collector.units import Quantity
from tests.collector.soil.forecast import made
from tests.fakes import FakeClock
from tests.fakes_advice import DAY_MS, FIELD_CAPACITY, HOUR_MS, FakeReadings, FakeSeason, M, T, bed, garden, probe

DAYS = 40
NOW_MS = made.START_MS + DAYS * DAY_MS
AIR = made.weather(DAYS + 7)
# A root zone 0.30 m deep loses so much each day [mm].
DRINKS_MM_D = 2.0


def say_soil(readings, depth_m, until_ms=NOW_MS):
    for at_ms, value in zip(AIR.time_ms.tolist(), made.soil_c(AIR, depth_m), strict=True):
        if at_ms <= until_ms:
            readings.say(probe(T, depth_m), float(value), at_ms)


def say_water(readings, full_ms, until_ms=NOW_MS):
    """A probe that says how a full root zone dries, all its depth alike."""
    for at_ms in range(full_ms, until_ms + 1, HOUR_MS):
        lacks_mm = DRINKS_MM_D * (at_ms - full_ms) / DAY_MS
        readings.say(probe(M, 0.15), FIELD_CAPACITY - lacks_mm / 300.0, at_ms)


@pytest.fixture
def readings():
    told = FakeReadings()
    for depth_m in (0.05, 0.12, 0.20):
        say_soil(told, depth_m)
    return told


def lookout(readings, *beds, season=None, clock=None):
    of = garden(*(beds or (bed(),)))
    return Lookout(of, readings, season or FakeSeason(), Forecaster(of, readings), clock or FakeClock(NOW_MS))


def test_the_cloves_and_every_thermometer_are_looked_at_a_week_ahead(readings):
    found = lookout(readings).outlook(bed(), NOW_MS).temperature
    assert found.depths_m.tolist() == [0.05, 0.12, 0.20]
    assert found.profile_c.shape == (LONGEST_H, 3)
    assert found.time_ms[0] == NOW_MS + HOUR_MS
    truth_c = made.soil_c(AIR, 0.12)[DAYS * 24 : DAYS * 24 + 24]
    assert made.rmse_k(found.cloves_c[:24], truth_c) < 1.0
    assert (found.low_c < found.cloves_c).all()
    assert found.cloves_c == pytest.approx(found.profile_c[:, 1])


def test_the_mean_of_a_day_runs_on_from_what_was_measured(readings):
    found = lookout(readings).outlook(bed(), NOW_MS).temperature
    measured_c = made.soil_c(AIR, 0.12)[DAYS * 24 - 23 : DAYS * 24]
    assert found.mean_c[0] == pytest.approx((measured_c.sum() + found.cloves_c[0]) / 24, abs=0.02)
    assert found.mean_c[23] == pytest.approx(found.cloves_c[:24].mean())


def test_the_day_of_refill_follows_from_what_the_bed_drank(readings):
    say_water(readings, NOW_MS - 4 * DAY_MS)
    found = lookout(readings).outlook(bed(), NOW_MS).water
    assert found.depletion_mm[0] == pytest.approx(4 * DRINKS_MM_D, abs=0.5)
    days_to_refill = (found.refill_mm[0] - found.depletion_mm[0]) / DRINKS_MM_D
    assert (found.refill_ms - NOW_MS) / DAY_MS == pytest.approx(days_to_refill, rel=0.25)
    assert found.early_ms < found.refill_ms
    assert found.time_ms[0] == NOW_MS


def test_a_bed_too_young_for_a_forecast_says_why(readings):
    young = FakeReadings()
    say_soil(young, 0.12, until_ms=NOW_MS)
    young.said = {name: {at: one for at, one in said.items() if at > NOW_MS - 5 * HOUR_MS} for name, said in young.said.items()}
    found = lookout(young).outlook(bed(), NOW_MS)
    assert found.temperature is None
    assert "want 24 h at least" in found.why_not[0]


def test_moisture_unheard_for_hours_is_no_water_ahead_and_says_so(readings):
    say_water(readings, NOW_MS - 3 * DAY_MS, until_ms=NOW_MS - DAY_MS)
    found = lookout(readings).outlook(bed(), NOW_MS)
    assert found.water is None
    assert found.why_not == ("no moisture probe has been heard for hours",)


def test_an_outlook_is_kept_and_made_anew_each_hour_and_not_between(readings):
    season, clock = FakeSeason(), FakeClock(NOW_MS + 1)
    watch = lookout(readings, season=season, clock=clock)
    watch.look()
    first = season.outlooks["terrace"]
    clock.pass_s(10 * 60)
    watch.look()
    assert season.outlooks["terrace"] is first
    clock.pass_s(HOUR_MS / 1000)
    watch.look()
    assert season.outlooks["terrace"].made_ms > first.made_ms


def test_what_the_grower_does_is_heeded_at_once(readings):
    season, clock = FakeSeason(), FakeClock(NOW_MS + 1)
    say_water(readings, NOW_MS - 2 * DAY_MS)
    watch = lookout(readings, season=season, clock=clock)
    watch.look()
    first = season.outlooks["terrace"]
    season.done("terrace", Job.WATER, clock.now_ms(), litres=40.0)
    clock.pass_s(BED_REST_S)
    watch.look()
    assert season.outlooks["terrace"].made_ms > first.made_ms


def test_a_cloth_that_lies_is_in_what_is_foreseen_and_what_would_be_without_it_is_told_beside(readings):
    shaded, season = bed(shade_cloth=0.5), FakeSeason()
    watch = lookout(readings, shaded, season=season)
    open_sky = watch.outlook(shaded, NOW_MS).temperature
    assert open_sky.bare_mean_c is None
    assert open_sky.with_cloth_mean_c[-1] < open_sky.mean_c[-1] - 0.2

    season.done("terrace", Job.SHADE, NOW_MS - HOUR_MS)
    under = watch.outlook(shaded, NOW_MS).temperature
    assert under.with_cloth_mean_c is None
    assert under.mean_c[-1] == pytest.approx(open_sky.with_cloth_mean_c[-1], abs=0.1)  # it was just laid: nothing is learned yet
    assert under.bare_mean_c[-1] == pytest.approx(open_sky.mean_c[-1], abs=0.1)

    season.done("terrace", Job.UNSHADE, NOW_MS)
    assert watch.outlook(shaded, NOW_MS).temperature.bare_mean_c is None


def test_a_watering_of_long_ago_is_none_of_the_first_hour():
    grid_ms = NOW_MS + HOUR_MS * np.arange(3)
    assert watered_mm(bed(), [DoneMark("terrace", Job.WATER, NOW_MS - 30 * DAY_MS, litres=72.0)], grid_ms).tolist() == [0.0] * 3


# ---------------------------------------------------------------- parts


def test_a_mean_of_a_day_wants_three_quarters_of_it():
    hourly = np.full(30, 10.0)
    hourly[:6] = np.nan
    assert means_of_24_h(hourly).tolist() == [10.0] * 7
    hourly[6] = np.nan
    assert np.isnan(means_of_24_h(hourly)[0])


def test_litres_told_are_millimetres_on_the_bed_in_their_hour():
    of = bed()
    grid_ms = NOW_MS + HOUR_MS * np.arange(3)
    marks = [DoneMark("terrace", Job.WATER, NOW_MS + 1, litres=72.0), DoneMark("terrace", Job.WATER, NOW_MS, litres=None)]
    assert watered_mm(of, marks, grid_ms).tolist() == [0.0, pytest.approx(72.0 / of.area_m2), 0.0]


def test_the_diffusivity_of_a_damped_wave_is_found_again():
    # The analytic wave in a uniform half-space: Carslaw & Jaeger 1959, Conduction of Heat in Solids, sec. 2.6 (from memory).
    diffusivity = 5.5e-7
    omega = 2 * np.pi / 86_400
    damping_m = np.sqrt(2 * diffusivity / omega)
    seconds = np.arange(0, 6 * 86_400, 1800)
    times_ms = NOW_MS - 6 * DAY_MS + 1000 * seconds

    def wave_c(depth_m):
        return 16 + 6 * np.exp(-depth_m / damping_m) * np.sin(omega * seconds - depth_m / damping_m)

    records = [Record(depth_m, times_ms, wave_c(depth_m)) for depth_m in (0.05, 0.12, 0.20)]
    assert learned_diffusivity_m2_s(records, NOW_MS) == pytest.approx(diffusivity, rel=0.02)
    assert learned_diffusivity_m2_s(records[:1], NOW_MS) is None


def test_the_gardens_own_air_and_rain_are_heeded(readings):
    mast = bed(bed_id="mast", name="Mast", thermometers_m=(), moistures_m=(), clove_m=None, others=[Quantity.RAIN])
    for at_ms in range(NOW_MS - DAY_MS, NOW_MS + 1, HOUR_MS):
        readings.say(probe(Quantity.RAIN, None, "mast"), 0.5, at_ms)
    say_water(readings, NOW_MS - 3 * DAY_MS)
    dry = lookout(readings).outlook(bed(), NOW_MS).water
    wet = lookout(readings, bed(), mast).outlook(bed(), NOW_MS).water
    assert wet.depletion_mm[0] != pytest.approx(dry.depletion_mm[0], abs=1e-6)


@pytest.mark.parametrize("hour", [0, 6, 12, 18])
def test_the_refill_line_does_not_move_with_the_hour_of_the_day(readings, hour):
    say_water(readings, NOW_MS - 4 * DAY_MS)
    found = lookout(readings).outlook(bed(), NOW_MS - hour * HOUR_MS).water
    assert found.refill_mm[:24] == pytest.approx(found.refill_mm[0], rel=0.06)
