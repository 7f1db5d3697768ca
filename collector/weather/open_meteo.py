"""Open-Meteo's forecast over HTTP: hourly weather past and ahead for any place on earth, without an account.

What is asked and how the answer is read goes by its documentation, https://open-meteo.com/en/docs: the table of
parameters, and "Hourly Parameter Definition", which says what each variable is valid for. Temperature, humidity
and wind are told for the instant, radiation as the mean and precipitation as the sum of the preceding hour. Errors
are JSON with a `reason` (Public/docs/openapi.yml in the repository open-meteo/open-meteo).
"""

from __future__ import annotations

import logging
import queue
import threading
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

import httpx
import msgspec
import numpy as np

from collector.errors import WeatherError
from collector.settings import WeatherSettings
from collector.soil.arrays import Array
from collector.soil.evapotranspiration import wind_at_2m_m_s
from collector.soil.forecast.inputs import AIR_C, HOUR_MS, HUMIDITY_PCT, RAIN_MM, SUN_W_M2, WIND_M_S, Weather

FREE_URL, CUSTOMER_URL = "https://api.open-meteo.com", "https://customer-api.open-meteo.com"
# Its licence, https://open-meteo.com/en/licence, asks for credit with a link, the licence, and what was changed.
ATTRIBUTION = (
    "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0 (https://creativecommons.org/licenses/by/4.0/), "
    "made into hourly means, wind brought down to 2 m"
)
# The most past days that it gives; ahead a week even for an answer two days old, whose first day was nearly over.
PAST_DAYS, AHEAD_DAYS = 92, 11
# A stranger is told the place to about a kilometre; its grid is coarser than that.
PLACE_DECIMALS = 2
WIND_HEIGHT_M = 10.0
# What is asked for takes 0.1 MB.
BODY_LIMIT_BYTES = 1 << 20
READ_TIMEOUT_S = 5.0
# For all of it, the look-up of its name included, which knows no time-out of its own; and less than a collector that was
# told to stop waits for the thread that asks.
DEADLINE_S = 8.0
# So long it is left alone after it refused us (HTTP 4xx), and at the most where it says how long (Retry-After).
REFUSED_WAIT_S, LONGEST_WAIT_S = 3600.0, 86_400.0
_LONGEST_REASON = 200


@dataclass(frozen=True, slots=True)
class _Variable:
    """One variable of the service: our column, its unit there, what is possible at all, and whether it is told for the instant.

    Outside the range a value is not known. Ranges: beyond the records that the World Meteorological Organization
    lists (-89.2 to 56.7 °C, gusts of 113 m/s, 305 mm of rain in 42 min); from memory.
    """

    column: str
    unit: str
    low: float
    high: float
    instant: bool


VARIABLES = {
    "temperature_2m": _Variable(AIR_C, "°C", -95.0, 60.0, instant=True),
    "relative_humidity_2m": _Variable(HUMIDITY_PCT, "%", 0.0, 105.0, instant=True),
    "wind_speed_10m": _Variable(WIND_M_S, "m/s", 0.0, 120.0, instant=True),
    "shortwave_radiation": _Variable(SUN_W_M2, "W/m²", -15.0, 1500.0, instant=False),
    "precipitation": _Variable(RAIN_MM, "mm", 0.0, 500.0, instant=False),
}

_Second = Annotated[int, msgspec.Meta(ge=0, le=4_102_444_800)]  # up to the year 2100
_Values = list[float | None]


class _Units(msgspec.Struct):
    time: str
    temperature_2m: str
    relative_humidity_2m: str
    wind_speed_10m: str
    shortwave_radiation: str
    precipitation: str


class _Hourly(msgspec.Struct):
    time: list[_Second]
    temperature_2m: _Values
    relative_humidity_2m: _Values
    wind_speed_10m: _Values
    shortwave_radiation: _Values
    precipitation: _Values


class _Answer(msgspec.Struct):
    hourly_units: _Units
    hourly: _Hourly


class _Refusal(msgspec.Struct):
    reason: str


class OpenMeteo:
    """The service for one place. It keeps nothing and may be asked at any time; a key is in no repr, error or log."""

    attribution = ATTRIBUTION

    def __init__(self, settings: WeatherSettings, latitude_deg: float, longitude_deg: float) -> None:
        """Nothing is sent. With a key and no address of its own it is the service's address for customers."""
        self._base = (settings.url or (CUSTOMER_URL if settings.key else FREE_URL)).rstrip("/")
        self._key = settings.key
        self._place = {
            "latitude": f"{round(latitude_deg, PLACE_DECIMALS):.{PLACE_DECIMALS}f}",
            "longitude": f"{round(longitude_deg, PLACE_DECIMALS):.{PLACE_DECIMALS}f}",
        }
        # It would write a line with the whole address for every request, place and key included.
        logging.getLogger("httpx").setLevel(logging.WARNING)

    @property
    def name(self) -> str:
        """What the grower calls it."""
        return f"weather {self._base}"

    @property
    def asked(self) -> str:
        """The question without the key: an answer to another one is of another place."""
        return f"{self._base}/v1/forecast?{urlencode(self._question(), safe=',')}"

    def fetch(self) -> str:
        """Ask, and give back the body of the answer as it came. Raises WeatherError, within DEADLINE_S at the latest."""
        outcomes: queue.SimpleQueue[str | WeatherError] = queue.SimpleQueue()
        given_up = threading.Event()
        asking = threading.Thread(target=lambda: outcomes.put(self._outcome(given_up)), name="weather", daemon=True)
        asking.start()
        try:
            outcome = outcomes.get(timeout=DEADLINE_S)
        except queue.Empty:
            given_up.set()
            raise WeatherError(
                f"{self._base} did not finish its answer within {DEADLINE_S:g} s; is the internet there?"
            ) from None
        if isinstance(outcome, WeatherError):
            raise outcome
        return outcome

    def read(self, body: str) -> Weather:
        """The weather that an answer tells: hourly means, and sums of rain, over the hour that ends at the time given.

        Raises WeatherError for anything that is not as documented.
        """
        try:
            answer = msgspec.json.decode(body, type=_Answer)
        except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
            begin = " ".join(body[:60].split())
            raise WeatherError(f"{self._base}: its answer is not as documented ({error}); it begins with {begin!r}") from None
        time_ms = self._times(answer)
        columns = {}
        for name, variable in VARIABLES.items():
            unit, values = getattr(answer.hourly_units, name), getattr(answer.hourly, name)
            if unit != variable.unit:
                raise WeatherError(f"{self._base}: {name} comes in {unit!r}; want {variable.unit!r}")
            if len(values) != time_ms.size:
                raise WeatherError(f"{self._base}: {len(values)} values of {name} for {time_ms.size} hours; want as many")
            columns[variable.column] = _column(values, variable)
        for name in ("temperature_2m", "shortwave_radiation"):
            if not np.isfinite(columns[VARIABLES[name].column]).any():
                raise WeatherError(f"{self._base}: not one hour of its answer has a {name}; without it no soil can be forecast")
        columns[WIND_M_S] = wind_at_2m_m_s(columns[WIND_M_S], WIND_HEIGHT_M)
        return Weather(time_ms, columns)

    # ------------------------------------------------------------ parts of the above

    def _question(self) -> dict[str, str]:
        return {
            **self._place,
            "hourly": ",".join(VARIABLES),
            "wind_speed_unit": "ms",
            "timeformat": "unixtime",
            "past_days": str(PAST_DAYS),
            "forecast_days": str(AHEAD_DAYS),
        }

    def _outcome(self, given_up: threading.Event) -> str | WeatherError:
        params = self._question() | ({"apikey": self._key} if self._key else {})
        # Not packed, so that its size is told before it is unpacked, and the limit holds.
        headers = {"Accept": "application/json", "Accept-Encoding": "identity", "User-Agent": "cooldepth"}
        try:
            with httpx.stream(
                "GET", f"{self._base}/v1/forecast", params=params, headers=headers, timeout=READ_TIMEOUT_S
            ) as answer:
                body = self._body(answer, given_up)
                return body.decode("utf-8") if answer.status_code == httpx.codes.OK else self._refusal(answer, body)
        except WeatherError as error:
            return error
        except UnicodeDecodeError:
            return WeatherError(f"{self._base}: its answer is no UTF-8 text; want JSON")
        except httpx.TimeoutException:
            return WeatherError(f"{self._base} gave no answer within {READ_TIMEOUT_S:g} s; is the internet there?")
        except (httpx.HTTPError, httpx.InvalidURL, OSError, UnicodeError) as error:  # the last for a name that cannot be one
            return WeatherError(f"{self._base} cannot be reached ({self._hushed(str(error))}); is the internet there?")

    def _body(self, answer: httpx.Response, given_up: threading.Event) -> bytes:
        if answer.headers.get("Content-Encoding", "identity") != "identity":
            raise WeatherError(f"{self._base}: its answer comes packed, though it was asked not to; see what stands between")
        body = bytearray()
        for chunk in answer.iter_raw():
            body += chunk
            if len(body) > BODY_LIMIT_BYTES:
                raise WeatherError(f"{self._base}: its answer has over {BODY_LIMIT_BYTES} bytes; no forecast is that long")
            if given_up.is_set():
                break
        return bytes(body)

    def _refusal(self, answer: httpx.Response, body: bytes) -> WeatherError:
        """What a status other than 200 means."""
        status = answer.status_code
        try:
            said = msgspec.json.decode(body, type=_Refusal).reason
        except (msgspec.MsgspecError, UnicodeError, RecursionError):
            said = answer.reason_phrase
        told = f"{self._base} answered {status} ({self._hushed(said)})"
        if answer.is_redirect:
            return WeatherError(f"{told} and points elsewhere; want its own address in weather.url", REFUSED_WAIT_S)
        if status == httpx.codes.TOO_MANY_REQUESTS:
            return WeatherError(f"{told}; it is left alone for a while", max(REFUSED_WAIT_S, _retry_after_s(answer)))
        if answer.is_client_error:
            return WeatherError(f"{told}; see weather.url, and the key where there is one", REFUSED_WAIT_S)
        return WeatherError(told, _retry_after_s(answer))

    def _hushed(self, said: str) -> str:
        """What a stranger said, in one line of a bearable length, without the key."""
        line = " ".join("".join(sign if sign.isprintable() else " " for sign in said).split())
        return (line.replace(self._key, "***") if self._key else line)[:_LONGEST_REASON]

    def _times(self, answer: _Answer) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
        if answer.hourly_units.time != "unixtime":
            raise WeatherError(f"{self._base}: its times come as {answer.hourly_units.time!r}; want 'unixtime'")
        time_ms = np.array(answer.hourly.time, dtype=np.int64) * 1000
        if not time_ms.size:
            raise WeatherError(f"{self._base}: its answer has no hours at all; want {24 * (PAST_DAYS + AHEAD_DAYS)}")
        odd = np.flatnonzero(np.diff(time_ms) != HOUR_MS)
        if time_ms[0] % HOUR_MS or odd.size:
            place = int(odd[0]) + 1 if odd.size else 0
            raise WeatherError(
                f"{self._base}: hourly.time[{place}] is {answer.hourly.time[place]}; want full hours one after the other"
            )
        return time_ms


def _column(values: _Values, variable: _Variable) -> Array:
    """The values as hourly means or sums; the mean of an hour whose begin and end are told is that of the two.

    Source of the mean: trapezoidal rule.
    """
    told = np.array(values, dtype=np.float64)  # None becomes NaN
    told[~((told >= variable.low) & (told <= variable.high))] = np.nan
    if variable.instant:
        return np.concatenate([[np.nan], (told[:-1] + told[1:]) / 2.0])
    return told


def _retry_after_s(answer: httpx.Response) -> float:
    """RFC 9110, section 10.2.3; a date in its place is not heeded."""
    told = answer.headers.get("Retry-After", "").strip()
    return min(float(told), LONGEST_WAIT_S) if told.isascii() and told.isdigit() else 0.0
