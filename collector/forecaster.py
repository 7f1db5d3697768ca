"""Soil temperature in the days ahead: reads the store and a weather table, and asks `soil.forecast`.

It changes nothing and holds nothing open; every question is answered from readings up to its
moment alone.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from typing import TextIO

import numpy as np

from collector.advice.long_past import long_series
from collector.errors import DecodeError, QuestionError
from collector.model import Bed, Garden, Probe
from collector.ports import Readings, WeatherSource
from collector.soil.forecast.doubt import Doubt
from collector.soil.forecast.inputs import (
    AIR_C,
    HOUR_MS,
    HUMIDITY_PCT,
    QUANTITIES,
    RAIN_MM,
    SUN_W_M2,
    WIND_M_S,
    Record,
    Site,
    Weather,
)
from collector.soil.forecast.model import PAST_DAYS, Forecast, fit, forecast
from collector.tables import time_ms, time_text
from collector.units import Quantity
from collector.weather_table import merged

FORECAST_COLUMNS = ("time_utc", "mean_c", "low_c", "high_c")

_WEATHER_PROBES = {
    AIR_C: Quantity.AIR_TEMPERATURE,
    SUN_W_M2: Quantity.SOLAR_IRRADIANCE,
    HUMIDITY_PCT: Quantity.RELATIVE_HUMIDITY,
    WIND_M_S: Quantity.WIND_SPEED,
    RAIN_MM: Quantity.RAIN,
}
_PAST_MS = PAST_DAYS * 24 * HOUR_MS


class Forecaster:
    """Forecasts for the beds of one garden, from its readings and, where there is one, a weather table."""

    def __init__(self, garden: Garden, readings: Readings, public: WeatherSource | None = None) -> None:
        """It opens nothing: the store is the caller's to close.

        With a public weather source it must be asked about the present only.
        """
        self._garden = garden
        self._readings = readings
        self._public = public

    @property
    def site(self) -> Site:
        """Where the garden is."""
        return Site(self._garden.latitude_deg, self._garden.longitude_deg, self._garden.elevation_m)

    def ahead(self, bed_id: str, depth_m: float, now_ms: int, hours: int, weather: Weather | None = None) -> Forecast:
        """Temperature at a depth [m] of a bed at each of the next full hours; weather rows after `now_ms` count as forecast.

        A weather table is taken at its word. Without one the garden's own probes serve and the public source, where there is
        one, whose forecast may be off, as the band then says. Raises QuestionError for an unknown bed, a depth outside
        the soil column, a bed that has not spoken lately, and `hours` outside 1 to 168.
        """
        bed = self._garden.bed(bed_id)
        if bed is None:
            known = ", ".join(bed.id for bed in self._garden.beds)
            raise QuestionError(f"bed {bed_id!r} is not in the garden file; want one of: {known}")
        doubt = Doubt() if weather is None else None
        weather = weather or self.weather(bed, now_ms)
        try:
            return forecast(fit(self.records(bed, now_ms), weather, self.site, depth_m, now_ms), weather, hours, doubt)
        except ValueError as error:
            raise QuestionError(f"no forecast for bed {bed.id} at {time_text(now_ms)}: {error}") from None

    def records(self, bed: Bed, now_ms: int) -> list[Record]:
        """What the thermometers of a bed said in the past that a forecast learns from, up to `now_ms`."""
        records = []
        for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE):
            if probe.depth_m is not None:
                series = long_series(self._readings, probe, now_ms - _PAST_MS, now_ms + 1).trusted()
                records.append(Record(probe.depth_m, series.time_ms, series.value))
        return records

    @property
    def weather_by(self) -> str | None:
        """Whose weather went into what `weather` answered last, beside the garden's own; None where nobody's did."""
        return self._public.attribution if self._public and self._public.as_of_ms is not None else None

    def weather(self, bed: Bed, now_ms: int) -> Weather:
        """Hourly weather up to now and, where there is a public source, ahead.

        What the garden's own probes measured goes first: for each quantity one probe, the bed's own before another bed's.
        """
        told = self._public.ahead(now_ms) if self._public else None
        return merged(self._measured(bed, now_ms), told or Weather(), now_ms)

    def _measured(self, bed: Bed, now_ms: int) -> Weather:
        columns = {}
        found = {name: self._weather_probe(bed, quantity) for name, quantity in _WEATHER_PROBES.items()}
        series = {
            name: long_series(self._readings, probe, now_ms - _PAST_MS, now_ms + 1).trusted()
            for name, probe in found.items()
            if probe
        }
        if not any(one.time_ms.size for one in series.values()):
            return Weather()
        together = np.unique(np.concatenate([one.time_ms for one in series.values()]))
        for name, one in series.items():
            column = np.full(together.size, np.nan)
            column[np.searchsorted(together, one.time_ms)] = one.value
            columns[name] = column
        return Weather(together, columns)

    def _weather_probe(self, bed: Bed, quantity: Quantity) -> Probe | None:
        return next((probe for one in (bed, *self._garden.beds) for probe in one.probes_of(quantity)), None)


def read_weather(lines: Iterable[str]) -> Weather:
    """A weather table from CSV: `time_utc`, and columns named as in `soil.forecast.inputs.QUANTITIES`; others are left aside.

    An empty cell is a value that is missing. Rows may come in any order and with gaps. Raises DecodeError, with the
    line, for a heading without what a forecast needs, a time that is none or a cell that is no number.
    """
    rows = csv.reader(lines)
    heading = [cell.strip().lstrip("\ufeff") for cell in next(rows, [])]
    lacking = [name for name in ("time_utc", AIR_C, SUN_W_M2) if name not in heading]
    if lacking:
        raise DecodeError(
            f"line 1: the heading lacks {', '.join(lacking)}; want time_utc and of {', '.join(QUANTITIES)} at least two"
        )
    places = {name: heading.index(name) for name in QUANTITIES if name in heading}
    clock = heading.index("time_utc")
    times: list[int] = []
    columns: dict[str, list[float]] = {name: [] for name in places}
    for row in rows:
        if not row:
            continue
        if len(row) != len(heading):
            raise DecodeError(f"line {rows.line_num}: {len(row)} cells, the heading has {len(heading)}; want as many")
        try:
            times.append(time_ms(row[clock].strip()))
            for name, place in places.items():
                columns[name].append(_number(row[place].strip(), name))
        except DecodeError as error:
            raise DecodeError(f"line {rows.line_num}: {error}") from None
    return Weather(np.array(times, dtype=np.int64), {name: np.array(values) for name, values in columns.items()})


def write_forecast(ahead: Forecast, out: TextIO) -> None:
    """The forecast as CSV with the columns FORECAST_COLUMNS, one row for each full hour, to thousandths of a degree."""
    table = csv.writer(out, lineterminator="\n")
    table.writerow(FORECAST_COLUMNS)
    for at, mean, low, high in zip(ahead.time_ms.tolist(), ahead.mean_c, ahead.low_c, ahead.high_c, strict=True):
        table.writerow((time_text(at), f"{mean:.3f}", f"{low:.3f}", f"{high:.3f}"))


def _number(text: str, name: str) -> float:
    if not text or text.lower() == "nan":
        return math.nan
    try:
        number = float(text)
    except ValueError:
        raise DecodeError(f"{name} {text!r} is no number; want one as 12.5, or an empty cell where it is not known") from None
    return number if math.isfinite(number) else math.nan
