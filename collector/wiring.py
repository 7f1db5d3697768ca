"""Where the parts are named: the one module that knows which adapter fills which port.

Nothing is opened by importing it; every `open_...` gives back what it opened, and the
caller closes it.
"""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from collector import clock as clocks
from collector import garden_file
from collector.calibration import Book
from collector.model import Garden
from collector.ports import CountedReadings, ReadingStore, Source, WeatherSource, WeatherStore
from collector.recalibrate import Replay
from collector.settings import MqttSettings, StoreSettings, WeatherSettings
from collector.sources.mqtt import MqttSource
from collector.stores.pictures import Pictures
from collector.stores.queue import Queue
from collector.stores.season import SqliteSeason
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore

# What only some gardens or commands need is loaded where it is opened, for it takes time and memory that the others need not
# spend; and what gives advice is loaded at the first advice, when the readings that waited are in.
if TYPE_CHECKING:
    from collector.advice.claims import Claims
    from collector.advice.season.notebook import Notebook
    from collector.advice.wellness import Wellness
    from collector.forecaster import Forecaster
    from collector.query import SoilQueries
    from collector.report import Reporter
    from collector.sources.embedded import BesideBroker
    from collector.stores.influxql import InfluxQL
    from collector.stores.shipper import Shipper
    from collector.weather.open_meteo import OpenMeteo
    from collector.weather.table_file import WeatherFile


def read_garden(path: Path, *, secrets: bool = False, environ: Mapping[str, str] = os.environ) -> Garden:
    """The garden of a garden file; with `secrets`, what the environment must hold is asked for too.

    Raises GardenFileError with every problem at once.
    """
    garden = garden_file.read(path, environ, secrets=secrets)
    if garden.mqtt is not None:
        # One garden file may serve several computers, but at the broker each program needs a name of its own.
        named = garden.mqtt.client_id.replace("{host}", socket.gethostname())
        garden = replace(garden, mqtt=replace(garden.mqtt, client_id=named))
    return garden


def open_queue(garden: Garden) -> Queue:
    """What waits for InfluxDB; the caller closes it."""
    return Queue(garden.store_path, garden.probes, garden.store.queue_most_bytes)


def open_writer(garden: Garden, queue: Queue | None, opened: ExitStack) -> ReadingStore:
    """The writing side of the series store."""
    if queue is None:
        sqlite = SqliteReadingStore(garden.store_path)
        opened.callback(sqlite.close)
        return sqlite
    from collector.stores.influx import InfluxReadingStore

    opened.callback(queue.close)
    return InfluxReadingStore(queue, _open_influx(garden.store, opened))


def open_reader(garden: Garden, opened: ExitStack) -> CountedReadings:
    """The reading side of the series store."""
    if garden.store.kind == "sqlite":
        sqlite = SqliteReadings(garden.store_path)
        opened.callback(sqlite.close)
        return sqlite
    from collector.stores.influx import InfluxReadings

    influx = InfluxReadings(garden.store_path, _open_influx(garden.store, opened))
    opened.callback(influx.close)
    return influx


def _open_influx(settings: StoreSettings, opened: ExitStack) -> InfluxQL:
    from collector.stores.influxql import InfluxQL

    influx = InfluxQL(settings)
    opened.callback(influx.close)
    return influx


def open_shipper(settings: StoreSettings, queue: Queue, clock: clocks.SystemClock, opened: ExitStack) -> Shipper:
    """What carries the queue to InfluxDB."""
    from collector.stores.shipper import Shipper

    shipper = Shipper(queue, _open_influx(settings, opened), settings, clock)
    opened.callback(shipper.close)
    return shipper


def open_broker() -> BesideBroker:
    """A place for the embedded broker of a garden, which starts it only where the garden file asks for it."""
    from collector.sources.embedded import BesideBroker

    return BesideBroker()


def open_sources(
    garden: Garden, mqtt: MqttSettings | None, clock: clocks.SystemClock, forget_numbers: Callable[[], None] | None = None
) -> list[Source]:
    """The wires that the garden file names."""
    sources: list[Source] = []
    if mqtt is not None:
        sources.append(MqttSource(mqtt, clock, forget_numbers))
    if garden.serial:
        from collector.sources.serial_lines import SerialSource

        sources.extend(SerialSource(settings, clock) for settings in garden.serial)
    if garden.sdi12 or garden.modbus:
        sources.extend(_polled(garden, clock))
    return sources


def _polled(garden: Garden, clock: clocks.SystemClock) -> Iterator[Source]:
    """The buses whose probes speak when they are asked."""
    from collector.sources.polled import PolledSource

    for bus in garden.sdi12:
        from collector.sources.sdi12 import Sdi12Bus

        yield PolledSource(Sdi12Bus(bus, clock), bus.every_s, clock)
    for line in garden.modbus:
        from collector.sources.modbus import ModbusBus

        yield PolledSource(ModbusBus(line), line.every_s, clock)


def public_weather(garden: Garden, store: WeatherStore, clock: clocks.SystemClock) -> WeatherSource | None:
    settings = garden.weather
    if settings is None:
        return None
    if settings.file is not None:
        return weather_file(settings.file)
    from collector.weather.public import PublicWeather

    return PublicWeather(open_meteo(garden, settings), store, clock, settings.every_h)


def weather_file(path: Path) -> WeatherFile:
    """Weather out of a table."""
    from collector.weather.table_file import WeatherFile

    return WeatherFile(path)


def open_meteo(garden: Garden, settings: WeatherSettings) -> OpenMeteo:
    """The public weather service, for the place of the garden."""
    from collector.weather.open_meteo import OpenMeteo

    return OpenMeteo(settings, garden.latitude_deg, garden.longitude_deg)


def clock() -> clocks.SystemClock:
    """The clock that all of this runs on."""
    return clocks.from_environment()


def now_ms() -> int:
    """The present by the clock that all of this runs on, milliseconds since 1970-01-01 UTC."""
    return clocks.from_environment().now_ms()


@contextmanager
def open_readings(garden: Garden) -> Iterator[CountedReadings]:
    """The reading side of the garden's store."""
    with ExitStack() as opened:
        yield open_reader(garden, opened)


@contextmanager
def open_forecaster(garden: Garden, *, public: bool) -> Iterator[Forecaster]:
    """Forecasts for the garden's beds; with `public` by the weather service too that the garden file names."""
    from collector.forecaster import Forecaster

    with ExitStack() as opened:
        readings = opened.enter_context(open_readings(garden))
        if not public or garden.weather is None:
            yield Forecaster(garden, readings)
            return
        season = opened.enter_context(open_season(garden))
        yield Forecaster(garden, readings, public_weather(garden, season, clocks.from_environment()))


@contextmanager
def open_store(garden: Garden) -> Iterator[ReadingStore]:
    """The writing side of the garden's store; with InfluxDB what is written waits for the collector to ship it."""
    with ExitStack() as opened:
        yield open_writer(garden, open_queue(garden) if garden.store.kind == "influx" else None, opened)


@contextmanager
def open_season(garden: Garden) -> Iterator[SqliteSeason]:
    """The season's records of the garden."""
    season = SqliteSeason(garden.store_path)
    try:
        yield season
    finally:
        season.close()


@contextmanager
def open_notebook(garden: Garden) -> Iterator[Notebook]:
    """The journal of the garden."""
    from collector.advice.season.notebook import Notebook

    with open_season(garden) as season:
        yield Notebook(garden, season, clocks.from_environment(), Pictures(garden.store_path))


@contextmanager
def open_reporter(garden: Garden) -> Iterator[Reporter]:
    """Reports of the garden's seasons."""
    from collector.report import Reporter

    with open_readings(garden) as readings, open_season(garden) as season:
        yield Reporter(garden, readings, season, clocks.from_environment())


@contextmanager
def open_replay(garden: Garden) -> Iterator[tuple[Replay, SqliteSeason]]:
    """What works readings out anew, and where the calibrations are kept."""
    with open_readings(garden) as readings, open_store(garden) as store, open_season(garden) as season:
        yield Replay(readings, store, Book.of(season.calibrations()), garden.probes), season


@contextmanager
def open_claims(garden_path: Path) -> Iterator[Claims]:
    """What speaks without a probe, and claiming it in the garden file."""
    from collector.advice.claims import Claims
    from collector.garden_edit import GardenKeeper

    garden = read_garden(garden_path)
    with open_readings(garden) as readings:
        yield Claims(garden, readings, clocks.from_environment(), GardenKeeper(garden_path))


@contextmanager
def open_wellness(garden_path: Path) -> Iterator[Wellness]:
    """How the collector is, asked once, from outside of it."""
    from collector.advice.wellness import Wellness

    garden = read_garden(garden_path)
    with open_readings(garden) as readings, open_season(garden) as season:
        yield Wellness(garden, readings, season, clocks.from_environment(), stands_s=0.0)


def open_queries(garden_path: Path, opened: ExitStack | None = None) -> tuple[Garden, SoilQueries]:
    """The questions the dashboard may ask of a garden file's garden; open as long as `opened` is, or the process lives."""
    from collector.garden_edit import GardenKeeper
    from collector.query import SoilQueries

    garden = read_garden(garden_path)
    clock = clocks.from_environment()
    opened = opened or ExitStack()
    readings = open_reader(garden, opened)
    season = SqliteSeason(garden.store_path)
    opened.callback(season.close)
    keeper, pictures = GardenKeeper(garden_path), Pictures(garden.store_path)
    return garden, SoilQueries(garden, readings, season, clock, pictures, keeper, partial(open_store, garden))
