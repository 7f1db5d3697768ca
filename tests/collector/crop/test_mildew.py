"""Nights of spores and damp hours after them: each source's line, rain, gaps and light nights."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from collector.crop.disease import Fit
from collector.crop.mildew import MildewWeather, mildew_weather
from collector.crop.spans import Array
from tests.collector.crop.made import DAY_MS, HOUR_MS, hours

DAY = dt.date(2026, 4, 10)
MIDNIGHT_MS = int((DAY - dt.date(1970, 1, 1)).days * DAY_MS)
LATITUDE_DEG = 37.1  # at longitude 0 its clock is that of the mean sun, dawn is near 05:33

# Readings every half hour of the day before, the night, and three days more. Their times in hours from midnight of DAY.
TIMES = MIDNIGHT_MS + (HOUR_MS // 2) * np.arange(-2 * 30, 2 * 96, dtype=np.int64)
AT_H: Array = (TIMES - MIDNIGHT_MS) / HOUR_MS


def air(day_c: float = 20.0, night_c: float = 12.0) -> Array:
    """Warm from 10 to 18 o'clock of each day, cool else."""
    clock_h = AT_H % 24
    warm: Array = np.where((clock_h >= 10) & (clock_h <= 18), day_c, night_c)
    return warm


def humidity(*humid_h: tuple[float, float]) -> Array:
    """60 %, and 97 % in the spans given, in hours from midnight of DAY."""
    found = np.full(AT_H.size, 60.0)
    for begin_h, end_h in humid_h:
        found[(begin_h <= AT_H) & (end_h >= AT_H)] = 97.0
    return found


HUMID_NIGHT = (1.0, 6.5)
DAMP_NEXT_NIGHT = (24.0, 28.0)


def weather(air_c: Array, humidity_pct: Array, rain_mm: dict[dt.date, float] | None = None) -> MildewWeather:
    return mildew_weather(TIMES, air_c, humidity_pct, [DAY], LATITUDE_DEG, 0.0, rain_mm)


def test_a_humid_night_after_a_cool_day_forms_spores_and_damp_hours_make_it_mildew_weather() -> None:
    found = weather(air(), humidity(HUMID_NIGHT, DAMP_NEXT_NIGHT), {DAY: 0.0})
    night = found.nights[0]
    assert night.fit is Fit.YES
    assert night.rain_known
    assert night.day_before_c == 20.0
    assert night.night_h == pytest.approx(night.humid_h)
    assert night.night_h == pytest.approx(3.55, abs=0.05)  # from 02:00 to sunrise
    assert found.fit is Fit.YES
    assert found.cool_run_h == pytest.approx(4.0)
    assert night.dawn_ms is not None
    assert found.shows == (night.dawn_ms + 10 * DAY_MS, night.dawn_ms + 16 * DAY_MS)


def test_spores_without_damp_hours_after_them_are_a_perhaps() -> None:
    found = weather(air(), humidity(HUMID_NIGHT))
    assert found.nights[0].fit is Fit.YES
    assert not found.nights[0].rain_known
    assert found.fit is Fit.PERHAPS


def test_damp_hours_after_three_days_come_too_late_for_the_spores() -> None:
    assert weather(air(), humidity(HUMID_NIGHT, (74.0, 77.9))).fit is Fit.YES  # dawn is at 5.6, and 72 h later at 77.6
    assert weather(air(), humidity(HUMID_NIGHT, (76.0, 80.0))).fit is Fit.PERHAPS


def test_a_dry_half_hour_before_dawn_forms_no_spores() -> None:
    found = weather(air(), humidity((1.0, 4.0), (5.0, 6.5), DAMP_NEXT_NIGHT))
    assert found.nights[0].fit is Fit.NO
    assert found.fit is Fit.NO
    assert found.shows is None


@pytest.mark.parametrize(
    ("day_c", "fit"), [(22.9, Fit.YES), (23.5, Fit.PERHAPS), (27.0, Fit.PERHAPS), (28.5, Fit.NO), (31.0, Fit.NO)]
)
def test_a_warm_day_before_forms_fewer_spores_and_a_hot_one_none(day_c: float, fit: Fit) -> None:
    assert weather(air(day_c), humidity(HUMID_NIGHT)).nights[0].fit is fit


def test_two_hours_above_29_stop_them_and_one_does_not() -> None:
    for end_h, fit in ((-8.0, Fit.NO), (-9.0, Fit.PERHAPS)):
        air_c = air()
        air_c[(AT_H >= -10.0) & (end_h >= AT_H)] = 29.5
        assert weather(air_c, humidity(HUMID_NIGHT)).nights[0].fit is fit


def test_rain_in_the_night_forms_no_spores() -> None:
    assert weather(air(), humidity(HUMID_NIGHT), {DAY: 1.2}).nights[0].fit is Fit.NO


def test_rain_that_is_not_a_number_is_not_known() -> None:
    night = weather(air(), humidity(HUMID_NIGHT), {DAY: math.nan}).nights[0]
    assert (night.fit, night.rain_known) == (Fit.YES, False)


def test_damp_hours_must_be_warm_enough_and_longer_where_it_is_milder() -> None:
    def after(night_c: float, end_h: float) -> Fit:
        air_c = air()
        air_c[(AT_H >= 20.0) & (AT_H <= 34.0)] = night_c
        return weather(air_c, humidity(HUMID_NIGHT, (24.0, end_h))).fit

    assert after(12.0, 27.0) is Fit.YES
    assert after(12.0, 26.5) is Fit.PERHAPS
    assert after(18.0, 28.0) is Fit.PERHAPS
    assert after(18.0, 29.0) is Fit.YES
    assert after(5.0, 32.0) is Fit.PERHAPS
    assert after(21.0, 32.0) is Fit.PERHAPS


def test_a_gap_in_the_night_is_not_taken_for_safe() -> None:
    humidity_pct = humidity(HUMID_NIGHT)
    humidity_pct[(AT_H >= 1.0) & (AT_H <= 5.0)] = math.nan
    found = weather(air(), humidity_pct)
    assert found.nights[0].fit is Fit.NOT_KNOWN
    assert found.fit is Fit.NOT_KNOWN


def test_a_gap_in_the_day_before_is_not_taken_for_a_cool_day() -> None:
    air_c = air()
    air_c[(AT_H >= -14.0) & (AT_H <= -8.0)] = math.nan
    assert weather(air_c, humidity(HUMID_NIGHT)).nights[0].fit is Fit.NOT_KNOWN


def test_a_dry_night_is_a_no_though_the_day_before_is_not_known() -> None:
    air_c = air()
    air_c[(AT_H >= -14.0) & (AT_H <= -8.0)] = math.nan
    assert weather(air_c, humidity()).fit is Fit.NO


def test_one_night_of_spores_among_others_decides() -> None:
    days = [DAY, DAY + dt.timedelta(days=1)]
    humidity_pct = humidity((24.5, 30.5), (48.0, 52.0))
    found = mildew_weather(TIMES, air(), humidity_pct, days, LATITUDE_DEG, 0.0)
    assert [night.fit for night in found.nights] == [Fit.NO, Fit.YES]
    assert found.fit is Fit.YES


def test_damp_hours_after_a_night_that_perhaps_formed_spores_stay_a_perhaps() -> None:
    found = weather(air(23.5), humidity(HUMID_NIGHT, DAMP_NEXT_NIGHT))
    assert found.cool_run_h == pytest.approx(4.0)
    assert (found.nights[0].fit, found.fit) == (Fit.PERHAPS, Fit.PERHAPS)


def test_what_would_show_counts_from_the_night_that_an_infection_followed() -> None:
    # two nights of spores; the second is too cold to infect in, and damp hours follow when the spores of the first are dead
    air_c = air()
    air_c[(AT_H >= 72.5) & (AT_H <= 77.5)] = 5.0
    days = [DAY, DAY + dt.timedelta(days=3)]
    found = mildew_weather(TIMES, air_c, humidity(HUMID_NIGHT, (73.0, 82.0)), days, LATITUDE_DEG, 0.0)
    assert [night.fit for night in found.nights] == [Fit.YES, Fit.YES]
    second_ms = found.nights[1].dawn_ms
    assert second_ms is not None
    assert found.shows == (second_ms + 10 * DAY_MS, second_ms + 16 * DAY_MS)


def test_where_it_is_light_at_two_the_rule_does_not_speak() -> None:
    june = dt.date(2026, 6, 21)
    for latitude_deg in (65.0, 80.0):
        found = mildew_weather(TIMES, air(), humidity(), [june], latitude_deg, 0.0)
        assert found.nights[0].dawn_ms is None
        assert found.fit is Fit.NOT_KNOWN


def test_no_readings_and_no_days() -> None:
    nothing = np.empty(0)
    found = mildew_weather(np.empty(0, dtype=np.int64), nothing, nothing, [DAY], LATITUDE_DEG, 0.0)
    assert found.fit is Fit.NOT_KNOWN
    with pytest.raises(ValueError, match="want the date of at least one dawn"):
        mildew_weather(hours(0), nothing, nothing, [], LATITUDE_DEG, 0.0)
