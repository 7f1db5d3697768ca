"""Public weather that is asked for seldom and kept: the last good answer serves while the internet is away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from collector.errors import WeatherError
from collector.ports import Clock, WeatherStore
from collector.soil.forecast.inputs import AIR_C, DAY_H, HOUR_MS, Weather
from collector.tables import time_text

# An older answer is not used: weather is not known that far ahead that it would do. Common practice, no source.
SERVES_MS = 48 * HOUR_MS
# An answer that ends sooner is no forecast.
LEAST_AHEAD_MS = DAY_H * HOUR_MS
# After a failure it is asked again so soon, twice as long after each further one, but about every `every_h` at the latest.
RETRY_S = 600.0
_MOST_DOUBLINGS = 10


class Service(Protocol):
    """What is needed of a weather service."""

    @property
    def name(self) -> str:
        """What the grower calls it."""

    @property
    def attribution(self) -> str:
        """Whose data it is, and under which licence."""

    @property
    def asked(self) -> str:
        """The question, with nothing secret: an answer to another one does not count."""

    def fetch(self) -> str:
        """Ask, and give back the answer as it came. Raises WeatherError after some seconds at the latest."""

    def read(self, body: str) -> Weather:
        """The weather that an answer tells. Raises WeatherError."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """An answer, and when it came by both clocks: neither alone tells its age after a sleep or a jump."""

    weather: Weather
    at_ms: int
    at_s: float


class PublicWeather:
    """A weather service behind its last good answer (`ports.WeatherSource`). One thread calls it."""

    def __init__(self, service: Service, store: WeatherStore, clock: Clock, every_h: int) -> None:
        """Nothing is asked yet, and the store is the caller's to close."""
        self._service = service
        self._store = store
        self._clock = clock
        self._every_ms = every_h * HOUR_MS
        self._kept: _Kept | None = None
        self._recalled = False
        self._failures = 0
        self._not_before_s = -math.inf
        self._error: str | None = None
        self._as_of_ms: int | None = None

    @property
    def name(self) -> str:
        """What the grower calls it."""
        return self._service.name

    @property
    def attribution(self) -> str:
        """Whose data it is, under which licence, and what was changed: to be shown wherever its weather is."""
        return self._service.attribution

    @property
    def as_of_ms(self) -> int | None:
        """When the weather came that `ahead` last gave [ms]; None where it gave none."""
        return self._as_of_ms

    @property
    def trouble(self) -> str | None:
        """What went wrong when it was last asked, in a sentence; None when it is well."""
        if self._error is None:
            return None
        if self._as_of_ms is None:
            return f"{self._error}; until it answers, forecasts do without it"
        return f"{self._error}; its answer of {time_text(self._as_of_ms)} serves for up to {SERVES_MS // HOUR_MS} h"

    def ahead(self, now_ms: int) -> Weather | None:
        """Hourly weather of the past months and at least seven days from `now_ms` on, the present [ms since 1970 UTC].

        None while there is none that is fresh enough. It asks the service where that is due, which takes some seconds.
        Raises what the store raises; an answer that could not be kept is used all the same.
        """
        if not self._recalled:
            self._recall(now_ms)
        try:
            if self._age_ms(now_ms) >= self._every_ms and self._clock.elapsed_s() >= self._not_before_s:
                self._ask(now_ms)
        finally:
            fresh = self._kept is not None and self._age_ms(now_ms) <= SERVES_MS
            self._as_of_ms = self._kept.at_ms if self._kept and fresh else None
        return self._kept.weather if self._kept and fresh else None

    def _age_ms(self, now_ms: int) -> float:
        if self._kept is None:
            return math.inf
        return max(now_ms - self._kept.at_ms, (self._clock.elapsed_s() - self._kept.at_s) * 1000)

    def _recall(self, now_ms: int) -> None:
        """Take up the answer that was kept before a restart; one that came later than now tells nothing of its age."""
        found = self._store.kept_weather(self._service.asked)
        self._recalled = True
        if found is not None and 0 <= now_ms - found[0] <= SERVES_MS:
            try:
                self._kept = _Kept(self._service.read(found[1]), found[0], self._clock.elapsed_s())
            except WeatherError:
                return  # kept by another version of this program; the service is asked anew

    def _ask(self, now_ms: int) -> None:
        try:
            body = self._service.fetch()
            weather = self._service.read(body)
            self._must_reach(weather, now_ms)
        except WeatherError as error:
            wait_s = min(RETRY_S * 2 ** min(self._failures, _MOST_DOUBLINGS), self._every_ms / 1000)
            self._failures += 1
            self._not_before_s = self._clock.elapsed_s() + max(wait_s, error.wait_s)
            self._error = str(error)
            return
        self._kept = _Kept(weather, now_ms, self._clock.elapsed_s())
        self._failures = 0
        self._not_before_s = self._clock.elapsed_s() + RETRY_S  # even where the clock jumps
        self._error = None
        self._store.keep_weather(self._service.asked, now_ms, body)

    def _must_reach(self, weather: Weather, now_ms: int) -> None:
        """Raise WeatherError for an answer that tells of no day ahead."""
        last_ms = int(weather.time_ms[np.isfinite(weather.columns[AIR_C])][-1])
        if last_ms < now_ms + LEAST_AHEAD_MS:
            raise WeatherError(
                f"{self.name}: its answer ends at {time_text(last_ms)} and here it is {time_text(now_ms)}; "
                "want at least a day ahead. Is this machine's clock right?"
            )
