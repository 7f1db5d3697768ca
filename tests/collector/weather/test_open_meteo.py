"""The public weather service: what is asked, over a real socket, and how its answer is read.

Checked against https://open-meteo.com/en/docs, "Hourly Parameter Definition": temperature_2m [°C],
relative_humidity_2m [%] and wind_speed_10m are valid at the instant, shortwave_radiation [W/m²] is the
mean and precipitation [mm] the sum of the preceding hour; time in unix seconds is GMT.
"""

import gzip
import json
import logging

import numpy as np
import pytest

from collector.errors import WeatherError
from collector.settings import WeatherSettings
from collector.soil.forecast.inputs import AIR_C, HUMIDITY_PCT, QUANTITIES, RAIN_MM, SUN_W_M2, WIND_M_S
from collector.weather import open_meteo
from collector.weather.open_meteo import OpenMeteo
from tests.collector.weather.made import HOUR_MS, TODAY_S, answer, body, without
from tests.collector.weather.server import WeatherServer
from tests.real.mosquitto import free_port

KEY = "geheim-17"


@pytest.fixture
def server():
    with WeatherServer() as listener:
        listener.body = body().encode()
        yield listener


def service(url="http://127.0.0.1:1", key=None):
    return OpenMeteo(WeatherSettings("open-meteo", url, key=key), 37.123456, -7.0021)


def read(text):
    return service().read(text)


# ---------------------------------------------------------------- what is asked


def test_it_asks_for_the_documented_variables_in_our_units_and_tells_the_place_to_a_kilometre_only(server):
    service(server.url).fetch()
    ((path, asked, headers),) = server.questions
    assert path == "/v1/forecast"
    assert asked == {
        "latitude": ["37.12"],
        "longitude": ["-7.00"],
        "hourly": ["temperature_2m,relative_humidity_2m,wind_speed_10m,shortwave_radiation,precipitation"],
        "wind_speed_unit": ["ms"],
        "timeformat": ["unixtime"],
        "past_days": ["92"],
        "forecast_days": ["11"],
    }
    assert headers["Accept-Encoding"] == "identity"
    assert "Cookie" not in headers


def test_the_question_that_is_kept_names_the_rounded_place_and_never_the_key():
    asked = service("http://weather.example.org/", KEY).asked
    assert asked.startswith("http://weather.example.org/v1/forecast?latitude=37.12&longitude=-7.00&")
    assert KEY not in asked
    assert asked == service("http://weather.example.org").asked


def test_without_a_key_the_free_address_is_asked_and_with_one_that_for_customers():
    # "apikey ... The server URL requires the prefix customer-" (https://open-meteo.com/en/docs)
    assert service(url=None).name == "weather https://api.open-meteo.com"
    assert service(url=None, key=KEY).name == "weather https://customer-api.open-meteo.com"


def test_the_key_goes_to_the_service_and_nowhere_else(server, caplog):
    caplog.set_level(logging.DEBUG)
    keyed = service(server.url, KEY)
    keyed.fetch()
    assert server.questions[0][1]["apikey"] == [KEY]
    server.status, server.body = 400, json.dumps({"error": True, "reason": f"no such key: {KEY}"}).encode()
    with pytest.raises(WeatherError, match=r"answered 400 \(no such key: \*\*\*\); see weather\.url, and the key") as refused:
        keyed.fetch()
    assert KEY not in caplog.text + str(refused.value) + repr(keyed) + repr(WeatherSettings("open-meteo", key=KEY))
    assert "37.12" not in caplog.text


# ---------------------------------------------------------------- how an answer is read


def test_what_comes_over_the_wire_is_hourly_weather_of_past_and_future_in_every_quantity(server):
    asked = service(server.url)
    weather = asked.read(asked.fetch())
    assert set(weather.columns) == set(QUANTITIES)
    assert weather.time_ms[0] == (TODAY_S - 92 * 86_400) * 1000
    assert weather.time_ms[-1] == (TODAY_S + 11 * 86_400) * 1000 - HOUR_MS
    assert set(np.diff(weather.time_ms)) == {HOUR_MS}
    assert all(np.isfinite(column[1:]).all() for column in weather.columns.values())


def test_what_is_told_for_the_instant_becomes_the_mean_of_the_hour_that_ends_there():
    weather = read(body(hours=3, temperature_2m=[10, 12, 16], relative_humidity_2m=[90, 80, 60], wind_speed_10m=[0, 2, 4]))
    assert weather.columns[AIR_C] == pytest.approx([np.nan, 11, 14], nan_ok=True)
    assert weather.columns[HUMIDITY_PCT] == pytest.approx([np.nan, 85, 70], nan_ok=True)
    assert weather.columns[WIND_M_S][2] == pytest.approx(3 * weather.columns[WIND_M_S][1])


def test_radiation_and_rain_are_those_of_the_preceding_hour_already():
    weather = read(body(hours=3, shortwave_radiation=[0, 100, 300], precipitation=[0.1, 0, 2.4]))
    assert weather.columns[SUN_W_M2].tolist() == [0, 100, 300]
    assert weather.columns[RAIN_MM].tolist() == [0.1, 0, 2.4]


def test_wind_at_10_m_is_brought_to_2_m_as_fao_56_does():
    # Allen et al. 1998, FAO-56, Example 14, p. 56: 3.2 m/s at 10 m is 2.4 m/s at 2 m, printed to one decimal
    weather = read(body(hours=2, wind_speed_10m=[3.2, 3.2]))
    assert weather.columns[WIND_M_S][1] == pytest.approx(2.4, abs=0.05)


def test_a_value_that_is_null_is_not_known_and_its_neighbours_are():
    weather = read(body(hours=4, temperature_2m=[10, None, 14, 16], shortwave_radiation=[None, 1, 2, 3]))
    assert weather.columns[AIR_C] == pytest.approx([np.nan, np.nan, np.nan, 15], nan_ok=True)
    assert weather.columns[SUN_W_M2] == pytest.approx([np.nan, 1, 2, 3], nan_ok=True)


def test_a_value_that_cannot_be_is_not_known():
    weather = read(body(hours=3, shortwave_radiation=[5, -9999, 1600], precipitation=[0, 1e300, -1]))
    assert weather.columns[SUN_W_M2] == pytest.approx([5, np.nan, np.nan], nan_ok=True)
    assert weather.columns[RAIN_MM] == pytest.approx([0, np.nan, np.nan], nan_ok=True)


HOURS = [TODAY_S, TODAY_S + 3600, TODAY_S + 7200]


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ("", "not as documented"),
        ("<!DOCTYPE html><title>Sign in to the guests' net</title>", "begins with .<!DOCTYPE html><title>Sign in to"),
        (body()[:5000], r"not as documented \(.*truncated\)"),
        ("[]", "Expected `object`, got `array`"),
        ("null", "Expected `object`"),
        ("[" * 100_000, "not as documented"),
        ('{"error": true, "reason": "x"}', "missing required field `hourly_units`"),
        (without(lambda told: told.pop("hourly")), "missing required field `hourly`"),
        (without(lambda told: told["hourly"].pop("shortwave_radiation")), "missing required field `shortwave_radiation`"),
        (without(lambda told: told["hourly_units"].pop("precipitation")), "missing required field `precipitation`"),
        (body(hours=2, temperature_2m=["warm", 1]), r"Expected `float \| null`, got `str`.*temperature_2m\[0\]"),
        (body(hours=2, temperature_2m=[True, 1]), r"Expected `float \| null`, got `bool`"),
        (body(hours=2, temperature_2m=None), "Expected `array`, got `null`"),
        (body(hours=2, temperature_2m=[1]), "1 values of temperature_2m for 2 hours; want as many"),
        (body(hours=0), "no hours at all"),
        (body(hours=2, temperature_2m=[None, None]), "not one hour of its answer has a temperature_2m"),
        (body(hours=2, shortwave_radiation=[None, None]), "not one hour of its answer has a shortwave_radiation"),
        (body(hours=3, time=[HOURS[0], HOURS[2], HOURS[1]]), rf"hourly\.time\[1\] is {HOURS[2]}; want full hours one after"),
        (body(hours=3, time=HOURS[::-1]), rf"hourly\.time\[1\] is {HOURS[1]}"),
        (body(hours=3, time=[HOURS[0], HOURS[0], HOURS[1]]), r"hourly\.time\[1\]"),
        (body(hours=3, begin_s=TODAY_S + 1800), r"hourly\.time\[0\]"),
        (body(hours=2, time=["2026-04-13T00:00", "2026-04-13T01:00"]), r"Expected `int`, got `str`"),
        (body(hours=2, time=[1e30, 1]), r"not as documented"),
        (body(units={"time": "iso8601"}), "times come as 'iso8601'; want 'unixtime'"),
        (body(units={"temperature_2m": "°F"}), "temperature_2m comes in '°F'; want '°C'"),
        (body(units={"wind_speed_10m": "km/h"}), "wind_speed_10m comes in 'km/h'; want 'm/s'"),
        (body(units={"precipitation": "inch"}), "precipitation comes in 'inch'; want 'mm'"),
    ],
)
def test_an_answer_that_is_not_as_documented_is_told_and_never_half_read(told, why):
    with pytest.raises(WeatherError, match=why) as error:
        read(told)
    assert "http://127.0.0.1:1" in str(error.value)
    assert len(str(error.value)) < 400


def test_fields_that_are_new_do_no_harm():
    told = answer(hours=2)
    told["hourly"]["snow_depth"] = [0, 0]
    told["of_next_year"] = {"a": [1]}
    assert read(json.dumps(told)).time_ms.size == 2


# ---------------------------------------------------------------- a service that is away or refuses


def fails(server, **more):
    with pytest.raises(WeatherError) as error:
        service(server.url, **more).fetch()
    return error.value


def test_nobody_at_the_address_is_told():
    with pytest.raises(WeatherError, match=r"cannot be reached \(.*refused.*\); is the internet there\?"):
        service(f"http://127.0.0.1:{free_port()}").fetch()


@pytest.mark.parametrize("url", ["http://exa mple", "http://-", "http://" + "a" * 300, "http://xn--zzzzzz..", "http://[::1]:1"])
def test_an_address_that_is_none_is_told_and_has_a_question_all_the_same(url):
    with pytest.raises(WeatherError, match="cannot be reached"):
        service(url).fetch()
    assert service(url).asked.startswith(url)


def test_too_many_questions_are_told_with_the_services_own_words_and_it_is_left_alone_for_an_hour(server):
    server.status = 429
    server.body = b'{"error":true,"reason":"Daily API request limit exceeded. Please try again tomorrow."}'
    error = fails(server)
    assert "answered 429 (Daily API request limit exceeded. Please try again tomorrow.); it is left alone" in str(error)
    assert error.wait_s == 3600


@pytest.mark.parametrize(
    ("told", "wait_s"), [("7200", 7200), ("60", 3600), ("9" * 40, 86_400), ("soon", 3600), ("-5", 3600), ("", 3600)]
)
def test_the_service_may_say_how_long_it_wants_to_be_left_alone(server, told, wait_s):
    # RFC 9110, section 10.2.3: Retry-After in seconds
    server.status, server.headers = 429, {"Retry-After": told}
    assert fails(server).wait_s == wait_s


@pytest.mark.parametrize(
    ("status", "told"),
    [
        (400, "(Bad Request); see weather.url, and the key where there is one"),
        (404, "(Not Found); see weather.url, and the key where there is one"),
        (500, "(Internal Server Error)"),
        (503, "(Service Unavailable)"),
    ],
)
def test_any_other_refusal_is_told_by_its_number(server, status, told):
    server.status, server.body = status, b"<html>no JSON here</html>"
    assert str(fails(server)) == f"{server.url} answered {status} {told}"


def test_an_address_that_points_elsewhere_is_not_followed(server):
    server.status, server.headers = 301, {"Location": "http://127.0.0.1:1/v1/forecast"}
    assert "points elsewhere; want its own address in weather.url" in str(fails(server, key=KEY))
    assert len(server.questions) == 1


def test_an_endless_answer_is_cut_off(server):
    server.body = b"[" + b"1," * (1 << 20)
    assert "has over 1048576 bytes" in str(fails(server))


def test_a_packed_answer_is_not_unpacked(server):
    server.headers, server.body = {"Content-Encoding": "gzip"}, gzip.compress(b"0" * 50_000_000)
    assert "comes packed" in str(fails(server))


def test_an_answer_that_breaks_off_is_told(server):
    server.headers = {"Content-Length": str(10**6)}
    assert "cannot be reached" in str(fails(server))


def test_an_answer_that_is_no_text_is_told(server):
    server.body = b'{"latitude": "\xff\xfe"}'
    assert "no UTF-8" in str(fails(server))


def test_an_answer_that_is_no_http_is_told(server):
    server.dribble, server.pause_s = b"SSH-2.0-OpenSSH_9.2\r\n\r\n", 0.0
    assert "cannot be reached" in str(fails(server))


def test_a_service_that_says_nothing_is_waited_for_a_few_seconds_only(server, monkeypatch):
    monkeypatch.setattr(open_meteo, "READ_TIMEOUT_S", 0.1)
    server.dribble, server.pause_s = b"HTTP/1.1", 30.0
    assert "gave no answer within 0.1 s" in str(fails(server))


def test_a_service_that_dribbles_is_given_up_in_the_end(server, monkeypatch):
    monkeypatch.setattr(open_meteo, "DEADLINE_S", 0.3)
    server.dribble = b"HTTP/1.1 200 OK\r\n" + b"X-Slow: yes\r\n" * 1000
    assert "did not finish its answer within 0.3 s" in str(fails(server))
