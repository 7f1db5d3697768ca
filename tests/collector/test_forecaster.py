"""The forecaster: from a store and a weather table to a table of hours, and by no reading later than its moment."""

import io

import numpy as np
import pytest

from collector.errors import DecodeError, QuestionError
from collector.forecaster import FORECAST_COLUMNS, Forecaster, read_weather, write_forecast
from collector.model import Flag
from collector.soil.forecast.inputs import AIR_C, HOUR_MS, HUMIDITY_PCT, SUN_W_M2, WIND_M_S
from collector.tables import time_text
from collector.units import Quantity
from tests.collector.soil.forecast import made
from tests.fakes_advice import FakeReadings, T, bed, garden, probe

DAYS = 30
NOW_MS = made.START_MS + DAYS * 24 * HOUR_MS
AIR = made.weather(DAYS + 7)
T12 = probe(T, 0.12)
PROBES = {AIR_C: Quantity.AIR_TEMPERATURE, SUN_W_M2: Quantity.SOLAR_IRRADIANCE, WIND_M_S: Quantity.WIND_SPEED}


def say_soil(readings, depth_m=0.12, until_ms=NOW_MS, of=T12):
    for at_ms, value in zip(AIR.time_ms.tolist(), made.soil_c(AIR, depth_m), strict=True):
        if at_ms <= until_ms:
            readings.say(of, float(value), at_ms)


@pytest.fixture
def readings():
    told = FakeReadings()
    say_soil(told)
    return told


def forecaster(readings, *others):
    return Forecaster(garden(bed(thermometers_m=(0.12,)), *others), readings)


def table(weather=AIR, keep=slice(None)):
    names = list(weather.columns)
    rows = zip(weather.time_ms.tolist(), *(weather.columns[name].tolist() for name in names), strict=True)
    return [",".join(["time_utc", *names]), *(",".join([time_text(row[0]), *map(str, row[1:])]) for row in list(rows)[keep])]


def test_a_forecast_is_written_hour_by_hour(readings):
    out = io.StringIO()
    write_forecast(forecaster(readings).ahead("terrace", 0.12, NOW_MS, 72, AIR), out)
    lines = out.getvalue().splitlines()
    assert lines[0] == ",".join(FORECAST_COLUMNS)
    assert [line.split(",")[0] for line in lines[1:]] == [time_text(NOW_MS + hour * HOUR_MS) for hour in range(1, 73)]
    found = np.array([[float(cell) for cell in line.split(",")[1:]] for line in lines[1:]])
    assert made.rmse_k(found[:, 0], made.soil_c(AIR, 0.12)[DAYS * 24 : DAYS * 24 + 72]) < 0.4
    assert (found[:, 1] < found[:, 0]).all()
    assert (found[:, 0] < found[:, 2]).all()


def test_readings_after_its_moment_change_nothing(readings):
    before = forecaster(readings).ahead("terrace", 0.12, NOW_MS, 48, AIR)
    readings.say(T12, 60.0, *(NOW_MS + hour * HOUR_MS + 1 for hour in range(48)))
    after = forecaster(readings).ahead("terrace", 0.12, NOW_MS, 48, AIR)
    assert np.array_equal(before.mean_c, after.mean_c)


def test_distrusted_readings_tell_nothing(readings):
    before = forecaster(readings).ahead("terrace", 0.12, NOW_MS, 48, AIR)
    readings.say(T12, 85.0, *(NOW_MS - hour * HOUR_MS - 60_000 for hour in range(48)), flags=Flag.RESET_VALUE)
    assert np.array_equal(before.mean_c, forecaster(readings).ahead("terrace", 0.12, NOW_MS, 48, AIR).mean_c)


def test_the_gardens_own_weather_probes_serve_where_there_is_no_table(readings):
    others = list(PROBES.values())
    weather_bed = bed(bed_id="mast", name="Mast", thermometers_m=(), moistures_m=(), clove_m=None, others=others)
    for name, quantity in PROBES.items():
        for at_ms, value in zip(AIR.time_ms.tolist(), AIR.columns[name].tolist(), strict=True):
            readings.say(probe(quantity, None, "mast"), value, at_ms)
    own = forecaster(readings, weather_bed).weather(bed(), NOW_MS)
    past = AIR.time_ms <= NOW_MS
    assert own.time_ms.tolist() == AIR.time_ms[past].tolist()
    assert set(own.columns) == set(PROBES)
    for name in PROBES:
        assert own.columns[name] == pytest.approx(AIR.columns[name][past], abs=1e-6)


def test_without_any_weather_the_clock_alone_speaks(readings):
    assert forecaster(readings).weather(bed(), NOW_MS).time_ms.size == 0
    assert np.isfinite(forecaster(readings).ahead("terrace", 0.12, NOW_MS, 168).mean_c).all()


def test_a_depth_without_a_probe_is_answered_from_the_others(readings):
    found = forecaster(readings).ahead("terrace", 0.16, NOW_MS, 72, AIR)
    assert made.rmse_k(found.mean_c, made.soil_c(AIR, 0.16)[DAYS * 24 : DAYS * 24 + 72]) < 0.8


def test_an_unknown_bed_is_told_with_those_that_are_there(readings):
    with pytest.raises(QuestionError, match="bed 'terace' is not in the garden file; want one of: terrace"):
        forecaster(readings).ahead("terace", 0.12, NOW_MS, 24)


def test_a_bed_that_never_spoke_is_told(readings):
    with pytest.raises(QuestionError, match=r"no forecast for bed terrace at .*: no reading for 12 cm"):
        forecaster(FakeReadings()).ahead("terrace", 0.12, NOW_MS, 24)


@pytest.mark.parametrize(("depth_m", "hours", "told"), [(3.0, 24, "depth_m is 3.0"), (0.12, 200, "hours is 200; want 1 to 168")])
def test_what_cannot_be_forecast_is_told(readings, depth_m, hours, told):
    with pytest.raises(QuestionError, match=told):
        forecaster(readings).ahead("terrace", depth_m, NOW_MS, hours)


# ---------------------------------------------------------------- the weather table


def test_a_weather_table_is_read_with_its_gaps_in_any_order():
    lines = [
        "time_utc,rain_mm,air_temperature_c,solar_irradiance_w_m2",
        "2026-05-01T02:00:00Z,0,,200",
        "",
        "2026-05-01T01:00:00Z,1,12.5,100",
    ]
    weather = read_weather(lines)
    assert [time_text(at) for at in weather.time_ms.tolist()] == ["2026-05-01T02:00:00.000Z", "2026-05-01T01:00:00.000Z"]
    assert weather.columns[AIR_C].tolist() == pytest.approx([np.nan, 12.5], nan_ok=True)
    assert weather.columns[SUN_W_M2].tolist() == [200.0, 100.0]


def test_a_table_read_back_gives_the_same_forecast(readings):
    assert HUMIDITY_PCT in AIR.columns
    direct, read = (forecaster(readings).ahead("terrace", 0.12, NOW_MS, 48, weather) for weather in (AIR, read_weather(table())))
    assert read.mean_c == pytest.approx(direct.mean_c)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ([], "line 1: the heading lacks time_utc, air_temperature_c, solar_irradiance_w_m2"),
        (["time_utc,air_temperature_c"], "the heading lacks solar_irradiance_w_m2"),
        (["time_utc,air_temperature_c,solar_irradiance_w_m2", "yesterday,1,2"], "line 2: time 'yesterday' is no ISO 8601"),
        (
            ["time_utc,air_temperature_c,solar_irradiance_w_m2", "2026-05-01T01:00:00Z,warm,2"],
            "line 2: air_temperature_c 'warm' is no",
        ),
        (["time_utc,air_temperature_c,solar_irradiance_w_m2", "2026-05-01T01:00:00Z,1"], "line 2: 2 cells, the heading has 3"),
    ],
)
def test_a_table_that_is_none_is_told_with_its_line(lines, told):
    with pytest.raises(DecodeError, match=told):
        read_weather(lines)
