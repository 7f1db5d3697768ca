"""The whole forecast on a garden made by arithmetic: what it must do, and what it must never do."""

import numpy as np
import pytest

from collector.soil.forecast.doubt import Doubt
from collector.soil.forecast.inputs import AIR_C, HOUR_MS, SUN_W_M2, Record, Site, Weather
from collector.soil.forecast.model import LONGEST_H, fit, forecast
from tests.collector.soil.forecast import made

DAYS, DEPTH_M = 45, 0.12
AIR = made.weather(DAYS + 7)
RECORD = made.record(AIR, DEPTH_M)
NOW_MS = made.START_MS + DAYS * 24 * HOUR_MS
AHEAD = slice(DAYS * 24, DAYS * 24 + LONGEST_H)
TRUE_C = made.soil_c(AIR, DEPTH_M)[AHEAD]
# the two forecasts that anybody can make
LAST_DAY_C = np.resize(RECORD.temperature_c[DAYS * 24 - 24 : DAYS * 24], LONGEST_H)
THREE_DAYS_C = np.resize(RECORD.temperature_c[DAYS * 24 - 72 : DAYS * 24].reshape(3, 24).mean(axis=0), LONGEST_H)
NONE = Weather()


def cut(record, keep):
    return Record(record.depth_m, record.time_ms[keep], record.temperature_c[keep])


def ahead(records, weather=AIR, depth_m=DEPTH_M, now_ms=NOW_MS, site=made.SITE, coming=None):
    return forecast(fit(records, weather, site, depth_m, now_ms), weather if coming is None else coming, LONGEST_H)


def day_three_k(found_c):
    return made.rmse_k(found_c[48:72], TRUE_C[48:72])


@pytest.fixture(scope="module")
def usual():
    return ahead([RECORD])


def test_with_known_weather_it_is_far_better_than_the_last_days(usual):
    assert day_three_k(usual.mean_c) < 0.3 * min(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))


def test_it_speaks_for_each_full_hour_after_now_with_the_mean_inside_the_band(usual):
    assert usual.time_ms.tolist() == [NOW_MS + hour * HOUR_MS for hour in range(1, LONGEST_H + 1)]
    assert (usual.low_c < usual.mean_c).all()
    assert (usual.mean_c < usual.high_c).all()
    assert (np.diff(usual.high_c - usual.low_c) >= -1e-9).all()


def test_nothing_after_now_changes_it(usual):
    later = RECORD.time_ms > NOW_MS
    spoilt = Record(DEPTH_M, RECORD.time_ms, np.where(later, 60.0, RECORD.temperature_c))
    fitted = fit(
        [spoilt],
        Weather(AIR.time_ms, {**AIR.columns, AIR_C: np.where(later, 60.0, AIR.columns[AIR_C])}),
        made.SITE,
        DEPTH_M,
        NOW_MS,
    )
    found = forecast(fitted, AIR, LONGEST_H)
    assert np.array_equal(found.mean_c, usual.mean_c)
    assert np.array_equal(found.high_c, usual.high_c)


def test_the_order_of_rows_and_lost_values_among_them_change_nothing(usual):
    mixed = np.random.default_rng(9).permutation(RECORD.time_ms.size)
    times_ms = np.append(RECORD.time_ms, NOW_MS - 5 * HOUR_MS - 1)
    values_c = np.append(RECORD.temperature_c, np.nan)
    order = np.append(mixed, times_ms.size - 1)
    weather = Weather(AIR.time_ms[mixed], {name: values[mixed] for name, values in AIR.columns.items()})
    found = ahead([Record(DEPTH_M, times_ms[order], values_c[order])], weather)
    assert found.mean_c == pytest.approx(usual.mean_c, abs=1e-9)


def test_two_thermometers_at_one_depth_count_as_their_mean(usual):
    above, below = (Record(DEPTH_M, RECORD.time_ms, RECORD.temperature_c + off_k) for off_k in (0.4, -0.4))
    assert ahead([above, below]).mean_c == pytest.approx(usual.mean_c, abs=1e-6)


def test_other_depths_do_not_disturb_a_depth_that_has_its_own_thermometer(usual):
    assert np.array_equal(ahead([made.record(AIR, 0.30), RECORD, made.record(AIR, 0.05)]).mean_c, usual.mean_c)


def test_gaps_of_hours_and_days_do_little_harm():
    hours = (RECORD.time_ms - made.START_MS) // HOUR_MS
    lost = (hours % 50 < 5) | ((hours > 500) & (hours < 600)) | (hours > DAYS * 24 - 6)
    assert day_three_k(ahead([cut(RECORD, ~lost)]).mean_c) < 0.4 * min(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))


@pytest.mark.parametrize("every_h", [2, 3])
def test_a_slow_probe_is_enough(every_h):
    slow = cut(RECORD, slice(every_h - 1, None, every_h))
    assert day_three_k(ahead([slow]).mean_c) < 0.35 * min(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))


def test_a_depth_between_two_thermometers_is_forecast_with_a_wider_band(usual):
    found = ahead([made.record(AIR, 0.06), made.record(AIR, 0.24)])
    assert day_three_k(found.mean_c) < 0.6 * min(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))
    assert (found.high_c - found.low_c > usual.high_c - usual.low_c).all()


def test_without_any_weather_the_band_is_wider_and_the_forecast_still_stands(usual):
    found = ahead([RECORD], NONE)
    assert (found.high_c - found.low_c > usual.high_c - usual.low_c).all()
    assert np.isfinite(found.mean_c).all()
    assert day_three_k(found.mean_c) < 1.1 * max(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))


def test_weather_that_ends_after_two_days_serves_for_two_days(usual):
    two_days = Weather(AIR.time_ms[: (DAYS + 2) * 24], {name: values[: (DAYS + 2) * 24] for name, values in AIR.columns.items()})
    found = ahead([RECORD], coming=two_days)
    without = ahead([RECORD], coming=NONE)
    assert found.mean_c[:48] == pytest.approx(usual.mean_c[:48], abs=1e-9)
    assert found.mean_c[72:] == pytest.approx(without.mean_c[72:], abs=1e-9)


def test_air_temperature_alone_is_worth_having():
    air = Weather(AIR.time_ms, {AIR_C: AIR.columns[AIR_C]})
    assert day_three_k(ahead([RECORD], air).mean_c) < 0.8 * min(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))


def test_weather_in_doubt_widens_the_band_more_and_more_and_leaves_the_mean(usual):
    fitted = fit([RECORD], AIR, made.SITE, DEPTH_M, NOW_MS)
    found = forecast(fitted, AIR, LONGEST_H, Doubt())
    assert np.array_equal(found.mean_c, usual.mean_c)
    wider_k = (found.high_c - found.low_c) - (usual.high_c - usual.low_c)
    assert wider_k[23] > 0.3
    assert wider_k[-1] > 2.0 * wider_k[23]
    # where the weather ahead is silent, there is nothing to doubt
    assert np.array_equal(forecast(fitted, NONE, 72, Doubt()).high_c, forecast(fitted, NONE, 72).high_c)


def test_an_estimated_depth_is_silent_where_all_thermometers_were_and_deeper_ones_than_the_column_do_no_harm():
    deep = Record(1.8, RECORD.time_ms, np.full(RECORD.time_ms.size, 15.0))
    hours = (RECORD.time_ms - made.START_MS) // HOUR_MS
    found = ahead([cut(made.record(AIR, 0.06), (hours < 700) | (hours > 800)), cut(deep, (hours < 700) | (hours > 800))])
    assert np.isfinite(found.mean_c).all()
    assert day_three_k(found.mean_c) < 0.8 * min(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))


def test_more_sun_ahead_is_warmer_soil_ahead():
    fitted = fit([RECORD], AIR, made.SITE, DEPTH_M, NOW_MS)
    shaded = Weather(AIR.time_ms, {**AIR.columns, SUN_W_M2: 0.5 * AIR.columns[SUN_W_M2]})
    sunny, shady = (forecast(fitted, coming, 72).mean_c for coming in (AIR, shaded))
    assert (sunny - shady)[24:].mean() > 0.5


@pytest.mark.parametrize("days", [1, 3, 7, 14])
def test_a_season_that_has_just_begun_gives_a_sound_forecast(days):
    young = cut(RECORD, RECORD.time_ms > NOW_MS - days * 24 * HOUR_MS)
    found = ahead([young])
    assert np.abs(found.mean_c - TRUE_C).max() < 8.0
    assert day_three_k(found.mean_c) < 1.2 * min(day_three_k(LAST_DAY_C), day_three_k(THREE_DAYS_C))


def test_a_polar_garden_gets_a_forecast():
    assert np.isfinite(ahead([RECORD], NONE, site=Site(80.0, 10.0, 0.0)).mean_c).all()


@pytest.mark.parametrize("depth_m", [-0.05, 2.5, np.nan])
def test_a_depth_outside_the_column_is_refused(depth_m):
    with pytest.raises(ValueError, match=r"depth_m is .*want 0 to 2"):
        fit([RECORD], AIR, made.SITE, depth_m, NOW_MS)


def test_a_probe_silent_for_a_week_is_refused():
    with pytest.raises(ValueError, match=r"no reading for 12 cm in the last 7 days"):
        fit([cut(RECORD, RECORD.time_ms < NOW_MS - 8 * 24 * HOUR_MS)], AIR, made.SITE, DEPTH_M, NOW_MS)


def test_no_thermometer_at_all_is_refused():
    with pytest.raises(ValueError, match="no reading"):
        fit([], AIR, made.SITE, DEPTH_M, NOW_MS)


def test_less_than_a_day_of_readings_is_refused():
    with pytest.raises(ValueError, match="began only 6 h ago; want 24 h"):
        fit([cut(RECORD, RECORD.time_ms > NOW_MS - 6 * HOUR_MS)], AIR, made.SITE, DEPTH_M, NOW_MS)


@pytest.mark.parametrize("hours", [0, 169])
def test_more_than_a_week_or_nothing_is_refused(hours):
    with pytest.raises(ValueError, match="want 1 to 168"):
        forecast(fit([RECORD], NONE, made.SITE, DEPTH_M, NOW_MS), NONE, hours)
