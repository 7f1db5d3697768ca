"""Answers of a weather service made for the tests, shaped as https://open-meteo.com/en/docs documents them."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from collector.weather.open_meteo import AHEAD_DAYS, PAST_DAYS
from tests.fakes import NOW_MS

HOUR_MS = 3_600_000
HOUR_S, DAY_S = 3600, 86_400
# 0:00 GMT of the day of NOW_MS; "past_days" are the days before it.
TODAY_S = NOW_MS // 1000 // DAY_S * DAY_S

UNITS = {
    "time": "unixtime",
    "temperature_2m": "°C",
    "relative_humidity_2m": "%",
    "wind_speed_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "precipitation": "mm",
}


def answer(
    hours: int = 24 * (PAST_DAYS + AHEAD_DAYS),
    begin_s: int = TODAY_S - PAST_DAYS * DAY_S,
    units: dict[str, str] | None = None,
    **columns: Any,
) -> dict[str, Any]:
    """A whole answer; `columns` replace those of the made weather."""
    hourly: dict[str, Any] = {
        "time": [begin_s + HOUR_S * hour for hour in range(hours)],
        "temperature_2m": [10.0 + hour % 24 / 2 for hour in range(hours)],
        "relative_humidity_2m": [80 - hour % 24 for hour in range(hours)],
        "wind_speed_10m": [2.0] * hours,
        "shortwave_radiation": [max(0.0, 500.0 - 80.0 * abs(hour % 24 - 12)) for hour in range(hours)],
        "precipitation": [0.4 if hour % 24 == 5 else 0.0 for hour in range(hours)],
    }
    return {
        "latitude": 37.125,
        "longitude": -7.625,
        "generationtime_ms": 0.2,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": 61.0,
        "hourly_units": {**UNITS, **(units or {})},
        "hourly": {**hourly, **columns},
    }


def body(**changes: Any) -> str:
    """The answer as it goes over the wire."""
    return json.dumps(answer(**changes), ensure_ascii=False)


def without(change: Callable[[dict[str, Any]], object]) -> str:
    """The answer after something was done to it."""
    told = answer(hours=48)
    change(told)
    return json.dumps(told, ensure_ascii=False)
