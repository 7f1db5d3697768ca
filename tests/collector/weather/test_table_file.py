"""A weather table beside the garden file: read when it changes, used while it reaches the present."""

import os

import numpy as np
import pytest

from collector.simulate.foretold import foretold_csv
from collector.simulate.scenario import demo_scenario
from collector.soil.forecast.inputs import AIR_C, HOUR_MS, RAIN_MM
from collector.tables import time_text
from collector.weather.public import SERVES_MS
from collector.weather.table_file import WeatherFile
from tests.fakes import NOW_MS

HEAD = "time_utc,air_temperature_c,solar_irradiance_w_m2"


def write(path, *rows, head=HEAD):
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")


def row(hours, air_c=20.0):
    return f"{time_text(NOW_MS + hours * HOUR_MS)},{air_c},500"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "weather.csv"


def test_a_table_is_given_by_its_full_hours_sorted_and_the_later_of_two_rows_counts(path):
    write(path, row(2, 22), row(1, 21), row(0.5, 99), row(1, 21.5))
    weather = WeatherFile(path).ahead(NOW_MS)
    assert weather.time_ms.tolist() == [NOW_MS + HOUR_MS, NOW_MS + 2 * HOUR_MS]
    assert weather.columns[AIR_C].tolist() == [21.5, 22.0]


def test_a_table_that_changes_is_read_again(path):
    write(path, row(1, 20))
    table = WeatherFile(path)
    assert table.ahead(NOW_MS).columns[AIR_C].tolist() == [20.0]
    write(path, row(1, 25), row(2, 26))
    assert table.ahead(NOW_MS + HOUR_MS).columns[AIR_C].tolist() == [25.0, 26.0]
    assert table.as_of_ms == NOW_MS + HOUR_MS


def test_a_table_that_is_not_there_or_is_none_is_told_and_the_one_before_serves(path):
    table = WeatherFile(path)
    assert table.ahead(NOW_MS) is None
    assert "No such file" in table.trouble
    assert table.as_of_ms is None
    write(path, row(1, 20))
    assert table.ahead(NOW_MS) is not None
    assert table.trouble is None
    write(path, "tomorrow,20,500,", row(1))
    os.utime(path, ns=(1, 1))
    assert table.ahead(NOW_MS).columns[AIR_C].tolist() == [20.0]
    assert "line 2" in table.trouble


def test_a_table_that_ended_two_days_ago_is_used_no_more(path):
    write(path, row(0))
    assert WeatherFile(path).ahead(NOW_MS + SERVES_MS) is not None
    assert WeatherFile(path).ahead(NOW_MS + SERVES_MS + 1) is None


def test_the_simulated_garden_foretells_its_weather_a_little_wrong(path):
    story = demo_scenario()
    path.write_text(foretold_csv(story), encoding="utf-8")
    weather = WeatherFile(path).ahead(story.now_ms)
    assert (np.diff(weather.time_ms) == HOUR_MS).all()
    assert weather.time_ms[-1] > story.now_ms + 7 * 24 * HOUR_MS
    assert np.isfinite(weather.columns[AIR_C]).all()
    assert 100 < weather.columns[RAIN_MM].sum() < 1500
