"""Tries everything that a garden file names, for `cooldepth check`. Beside wiring.py the one module that names adapters."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace

from collector import clock as clocks
from collector import wiring
from collector.errors import SourceError, StoreError, WeatherError
from collector.model import Garden
from collector.notifiers.phone import Phone
from collector.settings import MqttSettings
from collector.sources.mqtt import MqttSource
from collector.stores.sqlite import SqliteReadingStore


def _without_a_probe(garden: Garden) -> list[str]:
    """Ids that readings are kept under and that the garden file does not name."""
    try:
        with wiring.open_readings(garden) as readings:
            return sorted(set(readings.latest()) - {probe.id for probe in garden.probes})
    except StoreError:
        return []


def _influx_trouble(garden: Garden, clock: clocks.SystemClock) -> str | None:
    """Why readings could not be written to InfluxDB or read from it."""
    with ExitStack() as opened:
        try:
            queue = wiring.open_queue(garden)
            opened.callback(queue.close)
            wiring.open_shipper(garden.store, queue, clock, opened).reach()
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
    if gone := _without_a_probe(garden):
        told = "is their id another now? Under the old one they come back"
        yield f"readings of {', '.join(gone)} are kept, and the garden file names no such probe ({told})", None
    if garden.store.kind == "influx":
        yield f"influx {garden.store.url}", _influx_trouble(garden, clock)
    mqtt = garden.mqtt
    if mqtt is not None and not mqtt.embedded:
        # A name of its own and no topics: the collector's session and its messages stay untouched.
        mqtt = replace(mqtt, client_id=f"{mqtt.client_id}-check", topics=())
    elif mqtt is not None:
        yield f"embedded broker at port {mqtt.port}", _embedded_trouble(mqtt, clock)
        mqtt = None
    for source in wiring.open_sources(garden, mqtt, clock):
        source.take(2.0)
        yield source.name, source.trouble
        source.close()
        if mqtt is not None and source.can_acknowledge and source.trouble is None:
            yield _kept_for_the_absent(mqtt, clock)
    for settings in garden.notify:
        yield f"phone {settings.url_env}", Phone(settings.url, settings.url_env).trouble
    if garden.weather is not None and garden.weather.file is not None:
        table = wiring.weather_file(garden.weather.file)
        ends = None if table.ahead(clock.now_ms()) else f"{table.name}: it tells of no hour of the last two days or ahead"
        yield table.name, table.trouble or ends
    elif garden.weather is not None:
        service = wiring.open_meteo(garden, garden.weather)
        try:
            service.read(service.fetch())
            yield service.name, None
        except WeatherError as error:
            yield service.name, str(error)
