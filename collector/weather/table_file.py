"""A weather table that somebody puts beside the garden file: a forecast of another service, or of one's own making."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from collector.errors import DecodeError
from collector.forecaster import read_weather
from collector.soil.forecast.inputs import HOUR_MS, Weather
from collector.weather.public import SERVES_MS


class WeatherFile:
    """A table in a file (`ports.WeatherSource`), read again whenever it has changed. One thread calls it."""

    def __init__(self, path: Path) -> None:
        """Nothing is read yet."""
        self._path = path
        self._stamp: tuple[int, int] | None = None
        self._weather: Weather | None = None
        self._trouble: str | None = None
        self._as_of_ms: int | None = None

    @property
    def name(self) -> str:
        """What the grower calls it."""
        return f"weather {self._path}"

    @property
    def attribution(self) -> str:
        """Whose data it is: only the grower knows, who put it there."""
        return f"the table {self._path.name}"

    @property
    def trouble(self) -> str | None:
        """Why the table cannot be read, in a sentence; None when it can."""
        return self._trouble

    @property
    def as_of_ms(self) -> int | None:
        """When the table was read that `ahead` last gave [ms]; None where it gave none."""
        return self._as_of_ms

    def ahead(self, now_ms: int) -> Weather | None:
        """The table, while it reaches beyond `now_ms` or ended less than two days before [ms since 1970 UTC]."""
        self._read(now_ms)
        weather = self._weather
        if weather is None or not weather.time_ms.size or int(weather.time_ms[-1]) < now_ms - SERVES_MS:
            self._as_of_ms = None
            return None
        return weather

    def _read(self, now_ms: int) -> None:
        try:
            status = self._path.stat()
            stamp = (status.st_mtime_ns, status.st_size)
            if stamp == self._stamp:
                return
            with self._path.open(encoding="utf-8-sig") as lines:
                self._weather = hourly(read_weather(lines))
        except (OSError, UnicodeDecodeError, DecodeError) as error:
            # What was read before stays in use: a table that is being written is whole again soon.
            self._trouble = f"{self.name}: {getattr(error, 'strerror', None) or error}; put a table there as README.md shows it"
            return
        self._stamp, self._trouble, self._as_of_ms = stamp, None, now_ms


def hourly(table: Weather) -> Weather:
    """The rows that end at a full hour, sorted; of two rows at one time the later one counts."""
    full = np.flatnonzero(table.time_ms % HOUR_MS == 0)[::-1]
    time_ms, first = np.unique(table.time_ms[full], return_index=True)
    rows = full[first]
    return Weather(time_ms, {name: values[rows] for name, values in table.columns.items()})
