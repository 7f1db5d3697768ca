"""The collector of a garden, put together: everything that runs beside each other in it, and who tells whom.

Nothing is opened by importing it. What gives advice is loaded at the first advice, when the readings that waited are in.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from functools import cache, partial
from typing import TYPE_CHECKING

from collector import clock as clocks
from collector import wiring
from collector.advice.links import Links
from collector.advice.voice import voice_of
from collector.calibration import Book
from collector.daemon import Carrier, Daemon
from collector.decode.reader import Reader
from collector.intake import Intake
from collector.model import Garden
from collector.notices import ABSENCE, BROKER, COLLECTOR, DISK, GROUP, SILENCE, Notices
from collector.notifiers.phone import Phone
from collector.ports import CountedReadings, ReadingStore, Source, WeatherSource
from collector.recalibrate import Recalibrator
from collector.self_watch import Absence, DiskWatch, SilenceWatch, room_in
from collector.sources.broker_watch import BrokerWatch
from collector.stores.season import SqliteSeason
from collector.stores.sole import sole_collector
from collector.stores.upkeep import Upkeep

if TYPE_CHECKING:
    from collector.advice.views import Health
    from collector.sources.embedded import BesideBroker


@contextmanager
def open_daemon(
    garden: Garden,
    stop: threading.Event | None = None,
    beside: Sequence[Carrier] = (),
    broker: BesideBroker | None = None,
) -> Iterator[Daemon]:
    """The collector of a garden, ready to `run` until `stop` is set, with more that carries on beside it.

    Its broker, if embedded, is up while this is open, or for as long as the `broker` is that is given.
    """
    clock = clocks.from_environment()
    with ExitStack() as opened:
        queue = wiring.open_queue(garden) if garden.store.kind == "influx" else None
        store = wiring.open_writer(garden, queue, opened)
        opened.enter_context(sole_collector(garden.store_path))
        season = SqliteSeason(garden.store_path)
        opened.callback(season.close)
        readings = wiring.open_reader(garden, opened)
        shippers = [] if queue is None else [wiring.open_shipper(garden.store, queue, clock, opened)]
        carriers: list[Carrier] = [*shippers, *([_open_upkeep(garden, clock, opened)] if queue is None else [])]

        mqtt = garden.mqtt
        if mqtt is not None and (mqtt.embedded or broker is not None):
            mqtt = (broker or _broker_beside(opened)).beside(mqtt)
        sources = [*_kept_source(garden, store, clock), *wiring.open_sources(garden, mqtt, clock, store.forget_arrivals)]
        broker_watch = None if mqtt is None else BrokerWatch(mqtt, clock)
        if broker_watch is not None:
            opened.callback(broker_watch.close)

        phones = [Phone(settings.url, settings.url_env) for settings in garden.notify]
        links = None if garden.address is None else Links(garden.address, season.link_key())
        notices = Notices(garden, season, phones, clock, links)
        public = wiring.public_weather(garden, season, clock)

        disk = DiskWatch(garden.store_path.parent)
        absent = Absence(season.last_report(), clock.now_ms(), voice_of(garden))
        health = partial(_wellness, garden, readings, season, clock)
        silence = SilenceWatch(health, bool(garden.probes), clock.now_ms())
        notices.heed(ABSENCE, None)  # of an absence before this one

        @cache
        def advice() -> Callable[[], None]:
            return _advice(garden, store, readings, season, notices, public, clock)

        def report(troubles: Sequence[str]) -> None:
            without = [public.trouble] if public is not None and public.trouble else []
            broker = [] if broker_watch is None else broker_watch.troubles()
            little_room, now_ms = disk.look(), clock.now_ms()
            own = [*unserved, *intake.floods, *([] if little_room is None else [little_room[1]])]
            season.report([*troubles, *broker, *without, *own], now_ms)
            # Alarms are not with the advice, which there is none of while InfluxDB is away or readings are still coming in.
            for shipper in shippers:
                notices.heed(COLLECTOR, shipper.alarm)
            if broker_watch is not None:
                notices.heed(BROKER, broker_watch.dropped_alarm)
                notices.heed(GROUP, broker_watch.group_alarm)
            notices.heed(DISK, little_room)
            notices.heed(ABSENCE, absent.look(now_ms))
            notices.heed(SILENCE, silence.look(now_ms))

        intake = Intake(sources, store, garden.probes, clock, Book.of(season.calibrations()), Reader(garden.json))
        unserved = _serve_figures(garden, intake, health, opened)
        carriers.append(Recalibrator(garden, season, readings, store, intake.calibrate))
        yield Daemon(intake, sources, report, lambda: advice()(), clock, [*carriers, *beside], stop or threading.Event())


def _serve_figures(garden: Garden, intake: Intake, health: Callable[[], Health], opened: ExitStack) -> list[str]:
    """Serve the figures where the garden file asks for it; why that cannot be, in a sentence: readings do not wait for it."""
    if garden.metrics_port is None:
        return []
    from collector.metrics import Figures, MetricsServer

    figures = Figures(lambda: intake.counts, health, lambda: room_in(garden.store_path.parent)[0])
    try:
        opened.enter_context(MetricsServer(figures, garden.metrics_port))
    except OSError as error:
        return [f"figures are not served: port {garden.metrics_port}: {error.strerror}; give [metrics] another port"]
    return []


def _wellness(garden: Garden, readings: CountedReadings, season: SqliteSeason, clock: clocks.SystemClock) -> Health:
    """How the collector is; it runs, since it asks."""
    from collector.advice.wellness import Wellness

    return Wellness(garden, readings, season, clock).health()


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


def _broker_beside(opened: ExitStack) -> BesideBroker:
    broker = wiring.open_broker()
    opened.callback(broker.close)
    return broker


def _kept_source(garden: Garden, store: ReadingStore, clock: clocks.SystemClock) -> list[Source]:
    """What addresses said before they were claimed, where anything is left of that."""
    addresses = [probe.address for probe in garden.probes]
    if not store.kept_of(addresses, 1):
        return []
    from collector.sources.kept import KeptSource

    return [KeptSource(store, addresses, clock)]
