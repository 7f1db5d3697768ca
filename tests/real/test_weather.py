"""Public weather end to end: a garden file, a real HTTP server in the place of the service, a real SQLite file, the command."""

import json

import pytest

from collector import wiring
from collector.cli import main
from collector.soil.forecast.inputs import AIR_C
from collector.weather.open_meteo import OpenMeteo
from collector.weather.public import PublicWeather
from tests.collector.weather.made import body
from tests.collector.weather.server import WeatherServer
from tests.fakes import NOW_MS, FakeClock

GARDEN = """
[garden]
latitude_deg = 36.8412
longitude_deg = -5.3899
[store]
path = "garden.db"
{weather}
[[bed]]
id = "upper"
"""
WEATHER = '[weather]\nsource = "open-meteo"\nurl = "{url}"'


@pytest.fixture
def server():
    with WeatherServer() as listener:
        listener.body = body().encode()
        yield listener


def garden_file(folder, weather=""):
    path = folder / "garden.toml"
    path.write_text(GARDEN.format(weather=weather))
    return path


def checked(path, capsys):
    status = main(["check", "--garden", str(path), "--json"])
    return status, {one["what"]: one["trouble"] for one in json.loads(capsys.readouterr().out)}


def test_check_asks_the_service_once_and_says_that_it_is_well(tmp_path, capsys, server):
    status, found = checked(garden_file(tmp_path, WEATHER.format(url=server.url)), capsys)
    assert (status, found[f"weather {server.url}"]) == (0, None)
    ((_, asked, _),) = server.questions
    assert (asked["latitude"], asked["longitude"]) == (["36.84"], ["-5.39"])


def test_check_tells_what_is_wrong_with_the_service(tmp_path, capsys, server):
    server.body = b"<html>pay for this net</html>"
    status, found = checked(garden_file(tmp_path, WEATHER.format(url=server.url)), capsys)
    assert status == 1
    assert "not as documented" in found[f"weather {server.url}"]


def test_without_the_table_nothing_is_asked(tmp_path, capsys, server):
    status, found = checked(garden_file(tmp_path), capsys)
    assert status == 0
    assert not any(what.startswith("weather") for what in found)
    assert server.questions == []


def test_the_last_answer_outlives_the_service_and_the_program(tmp_path, server):
    garden = wiring.read_garden(garden_file(tmp_path, WEATHER.format(url=server.url)))
    clock = FakeClock()

    def open_weather(season):
        return PublicWeather(
            OpenMeteo(garden.weather, garden.latitude_deg, garden.longitude_deg), season, clock, garden.weather.every_h
        )

    with wiring.open_season(garden) as season:
        before = open_weather(season).ahead(NOW_MS)
    server.status = 503
    clock.pass_s(5 * 3600)
    with wiring.open_season(garden) as season:
        public = open_weather(season)
        after = public.ahead(clock.now_ms())
        assert public.trouble.startswith(f"{server.url} answered 503 (Service Unavailable); its answer of 2026-04-13T08:00:00")
    assert len(server.questions) == 2
    assert after.columns[AIR_C] == pytest.approx(before.columns[AIR_C], nan_ok=True)
