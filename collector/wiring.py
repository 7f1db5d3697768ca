"""Where the parts are named: the one module that knows which adapter fills which port.

Nothing is opened by importing it; every `open_...` gives back what it opened, and the
caller closes it.
"""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from collector import clock as clocks
from collector import garden_file
from collector.advice.links import Links
from collector.daemon import Carrier, Daemon
from collector.errors import SourceError, StoreError, WeatherError
from collector.intake import Intake
from collector.model import Garden, MqttSettings, StoreSettings, WeatherSettings
from collector.notices import BROKER, COLLECTOR, GROUP, Notices
from collector.notifiers.phone import Phone
from collector.ports import CountedReadings, ReadingStore, Source, WeatherSource, WeatherStore
from collector.sources.broker_watch import BrokerWatch
from collector.sources.mqtt import MqttSource
from collector.stores.pictures import Pictures
from collector.stores.queue import Queue
from collector.stores.season import SqliteSeason
from collector.stores.sole import sole_collector
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from collector.stores.upkeep import Upkeep

# What only some gardens or commands need is loaded where it is opened, for it takes time and memory that the others need not
# spend; and what gives advice is loaded at the first advice, when the readings that waited are in.
if TYPE_CHECKING:
    from collector.advice.season.notebook import Notebook
    from collector.forecaster import Forecaster
    from collector.query import SoilQueries
    from collector.report import Reporter
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


@contextmanager
def open_daemon(garden: Garden) -> Iterator[Daemon]:
    """The collector of a garden, ready to `run`; its broker, if embedded, is up while this is open."""
    clock = clocks.from_environment()
    with ExitStack() as opened:
        queue = _open_queue(garden) if garden.store.kind == "influx" else None
        store = _open_store(garden, queue, opened)
        opened.enter_context(sole_collector(garden.store_path))
        season = SqliteSeason(garden.store_path)
        opened.callback(season.close)
        readings = _open_readings(garden, opened)
        shippers = [] if queue is None else [_open_shipper(garden.store, queue, clock, opened)]
        carriers: list[Carrier] = [*shippers, *([_open_upkeep(garden, clock, opened)] if queue is None else [])]

        mqtt = garden.mqtt
        if mqtt is not None and mqtt.embedded:
            from collector.sources.embedded import EmbeddedBroker

            broker = opened.enter_context(EmbeddedBroker(mqtt.port))
            mqtt = replace(mqtt, host="127.0.0.1", port=broker.port)
        sources = _sources(garden, mqtt, clock, store.forget_arrivals)
        broker_watch = None if mqtt is None else BrokerWatch(mqtt, clock)
        if broker_watch is not None:
            opened.callback(broker_watch.close)

        phones = [Phone(settings.url, settings.url_env) for settings in garden.notify]
        links = None if garden.address is None else Links(garden.address, season.link_key())
        notices = Notices(garden, season, phones, clock, links)
        public = _public_weather(garden, season, clock)

        @cache
        def advice() -> Callable[[], None]:
            return _advice(garden, store, readings, season, notices, public, clock)

        def report(troubles: Sequence[str]) -> None:
            without = [public.trouble] if public is not None and public.trouble else []
            broker = [] if broker_watch is None else broker_watch.troubles()
            season.report([*troubles, *broker, *without], clock.now_ms())
            # Alarms are not with the advice, which there is none of while InfluxDB is away or readings are still coming in.
            for shipper in shippers:
                notices.heed(COLLECTOR, shipper.alarm)
            if broker_watch is not None:
                notices.heed(BROKER, broker_watch.dropped_alarm)
                notices.heed(GROUP, broker_watch.group_alarm)

        yield Daemon(Intake(sources, store, garden.probes, clock), sources, report, lambda: advice()(), clock, carriers)


def _advice(
    garden: Garden,
    store: ReadingStore,
    readings: CountedReadings,
    season: SqliteSeason,
    notices: Notices,
    public: WeatherSource | None,
    clock: clocks.SystemClock,
) -> Callable[[], None]:
    """One look at all of the beds."""
    from collector.advisor import Advisor
    from collector.forecaster import Forecaster
    from collector.lookout import Lookout
    from collector.probe_watch import ProbeWatch
    from collector.summary import Summary

    watch = ProbeWatch(garden, readings, store, clock)
    advisor = Advisor(garden, readings, season, notices, clock)
    summary = Summary(garden, season, notices, clock)
    lookout = Lookout(garden, readings, season, Forecaster(garden, readings, public), clock)

    def advise() -> None:
        watch.look()  # first: what is not of the soil must count for nothing in the rest
        advisor.look()
        summary.look(advisor.rounds)
        notices.remind()
        notices.deliver()
        lookout.look()  # last, for it takes its time: the next look heeds it

    return advise


def _open_upkeep(garden: Garden, clock: clocks.SystemClock, opened: ExitStack) -> Upkeep:
    upkeep = Upkeep(garden.store_path, garden.store.keep_raw_days, clock)
    opened.callback(upkeep.close)
    return upkeep


def _open_queue(garden: Garden) -> Queue:
    return Queue(garden.store_path, garden.probes, garden.store.queue_most_bytes)


def _open_store(garden: Garden, queue: Queue | None, opened: ExitStack) -> ReadingStore:
    """The writing side of the series store."""
    if queue is None:
        sqlite = SqliteReadingStore(garden.store_path)
        opened.callback(sqlite.close)
        return sqlite
    from collector.stores.influx import InfluxReadingStore

    opened.callback(queue.close)
    return InfluxReadingStore(queue, _open_influx(garden.store, opened))


def _open_readings(garden: Garden, opened: ExitStack) -> CountedReadings:
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


def _open_shipper(settings: StoreSettings, queue: Queue, clock: clocks.SystemClock, opened: ExitStack) -> Shipper:
    from collector.stores.shipper import Shipper

    shipper = Shipper(queue, _open_influx(settings, opened), settings, clock)
    opened.callback(shipper.close)
    return shipper


def _sources(
    garden: Garden, mqtt: MqttSettings | None, clock: clocks.SystemClock, forget_numbers: Callable[[], None] | None = None
) -> list[Source]:
    sources: list[Source] = []
    if mqtt is not None:
        sources.append(MqttSource(mqtt, clock, forget_numbers))
    if garden.serial:
        from collector.sources.serial_lines import SerialSource

        sources.extend(SerialSource(settings, clock) for settings in garden.serial)
    return sources


def _public_weather(garden: Garden, store: WeatherStore, clock: clocks.SystemClock) -> WeatherSource | None:
    settings = garden.weather
    if settings is None:
        return None
    if settings.file is not None:
        return _weather_file(settings.file)
    from collector.weather.public import PublicWeather

    return PublicWeather(_open_meteo(garden, settings), store, clock, settings.every_h)


def _weather_file(path: Path) -> WeatherFile:
    from collector.weather.table_file import WeatherFile

    return WeatherFile(path)


def _open_meteo(garden: Garden, settings: WeatherSettings) -> OpenMeteo:
    from collector.weather.open_meteo import OpenMeteo

    return OpenMeteo(settings, garden.latitude_deg, garden.longitude_deg)


def now_ms() -> int:
    """The present by the clock that all of this runs on, milliseconds since 1970-01-01 UTC."""
    return clocks.from_environment().now_ms()


@contextmanager
def open_readings(garden: Garden) -> Iterator[CountedReadings]:
    """The reading side of the garden's store."""
    with ExitStack() as opened:
        yield _open_readings(garden, opened)


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
        yield Forecaster(garden, readings, _public_weather(garden, season, clocks.from_environment()))


@contextmanager
def open_store(garden: Garden) -> Iterator[ReadingStore]:
    """The writing side of the garden's store; with InfluxDB what is written waits for the collector to ship it."""
    with ExitStack() as opened:
        yield _open_store(garden, _open_queue(garden) if garden.store.kind == "influx" else None, opened)


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


def open_queries(garden_path: Path) -> tuple[Garden, SoilQueries]:
    """The questions the dashboard may ask of a garden file's garden; open as long as the process lives."""
    from collector.query import SoilQueries

    garden = read_garden(garden_path)
    clock = clocks.from_environment()
    readings = _open_readings(garden, ExitStack())  # never closed: the process is as long-lived
    season = SqliteSeason(garden.store_path)
    return garden, SoilQueries(garden, readings, season, clock, Pictures(garden.store_path))


def _influx_trouble(garden: Garden, clock: clocks.SystemClock) -> str | None:
    """Why readings could not be written to InfluxDB or read from it."""
    with ExitStack() as opened:
        try:
            queue = _open_queue(garden)
            opened.callback(queue.close)
            _open_shipper(garden.store, queue, clock, opened).reach()
        except StoreError as error:
            return str(error)
    return None


def _embedded_trouble(mqtt: MqttSettings, clock: clocks.SystemClock) -> str | None:
    """Why the embedded broker could not start, unless one is up there already: that of a collector that runs."""
    from collector.sources.embedded import EmbeddedBroker

    try:
        with EmbeddedBroker(mqtt.port):
            return None
    except SourceError as error:
        there = MqttSource(replace(mqtt, host="127.0.0.1", client_id=f"{mqtt.client_id}-check", topics=()), clock)
        there.take(2.0)
        taken, well = str(error), there.trouble is None
        there.close()
        return None if well else taken


def _kept_for_the_absent(mqtt: MqttSettings, clock: clocks.SystemClock) -> tuple[str, str | None]:
    """What the broker keeps for a collector that is away, and what is wrong with that."""
    from collector.sources.broker_trial import MESSAGES, kept_for_the_absent

    what = f"mqtt {mqtt.host}:{mqtt.port} keeps messages for a collector that is away"
    try:
        kept = kept_for_the_absent(mqtt, clock)
    except SourceError as error:
        return f"{what} (could not be tried: {error})", None
    tried = f"{what} (tried with {MESSAGES}; whether it keeps them through a crash of its own cannot be tried from here)"
    if kept == MESSAGES:
        return tried, None
    told = f"it kept {kept} of {MESSAGES} and dropped the rest, while every sender was told that all is well"
    return tried, f"{told}; set max_queued_messages 1000000 in its configuration"


def reach(garden: Garden) -> Iterator[tuple[str, str | None]]:
    """Try everything that the garden file names: yields (what, None) or (what, its trouble in a sentence)."""
    try:
        SqliteReadingStore(garden.store_path).close()
        yield f"store {garden.store_path}", None
    except StoreError as error:
        yield f"store {garden.store_path}", str(error)
    clock = clocks.from_environment()
    if garden.store.kind == "influx":
        yield f"influx {garden.store.url}", _influx_trouble(garden, clock)
    mqtt = garden.mqtt
    if mqtt is not None and not mqtt.embedded:
        # A name of its own and no topics: the collector's session and its messages stay untouched.
        mqtt = replace(mqtt, client_id=f"{mqtt.client_id}-check", topics=())
    elif mqtt is not None:
        yield f"embedded broker at port {mqtt.port}", _embedded_trouble(mqtt, clock)
        mqtt = None
    for source in _sources(garden, mqtt, clock):
        source.take(2.0)
        yield source.name, source.trouble
        source.close()
        if mqtt is not None and source.can_acknowledge and source.trouble is None:
            yield _kept_for_the_absent(mqtt, clock)
    for settings in garden.notify:
        yield f"phone {settings.url_env}", Phone(settings.url, settings.url_env).trouble
    if garden.weather is not None and garden.weather.file is not None:
        table = _weather_file(garden.weather.file)
        ends = None if table.ahead(clock.now_ms()) else f"{table.name}: it tells of no hour of the last two days or ahead"
        yield table.name, table.trouble or ends
    elif garden.weather is not None:
        service = _open_meteo(garden, garden.weather)
        try:
            service.read(service.fetch())
            yield service.name, None
        except WeatherError as error:
            yield service.name, str(error)
