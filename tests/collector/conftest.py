"""Series stores for tests of what every one of them must do: SQLite, and InfluxDB with its queue full and empty."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest

from collector.model import Batch, Flag, Probe
from collector.stores.influx import InfluxReadings, InfluxReadingStore
from collector.stores.influxql import InfluxQL
from collector.stores.queue import Queue
from collector.stores.season import SqliteSeason
from collector.stores.shipper import Shipper
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from collector.units import Quantity
from tests.fakes import FakeClock
from tests.fakes_advice import FakeSeason
from tests.real.influx import Influx

_NUMBERS = count(1)
PROBES = [Probe(id_, "terrace", Quantity.SOIL_TEMPERATURE, id_, 0.1) for id_ in ("a", "b", "c", "t12", "new", "other")]
PROBES += [Probe(f"p{number}", "terrace", Quantity.SOIL_TEMPERATURE, f"p{number}", 0.1) for number in range(8)]


class ShippingStore(InfluxReadingStore):
    """The store of InfluxDB; after each call all has arrived there."""

    def __init__(self, queue: Queue, influx: InfluxQL, shipper: Shipper) -> None:
        super().__init__(queue, influx)
        self._shipper = shipper

    def commit(self, batch: Batch) -> None:
        super().commit(batch)
        ship_all(self._queue, self._shipper)

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        super().mark(probe_id, from_ms, to_ms, flag, on=on)
        ship_all(self._queue, self._shipper)


def ship_all(queue: Queue, shipper: Shipper) -> None:
    """Step until nothing waits; a trouble fails the test."""
    while queue.waiting or queue.marks():
        shipper.step()
        assert shipper.trouble is None


class Stores:
    """Makes stores of one kind, and closes them."""

    def __init__(self, folder: Callable[[], Path], influx: Influx | None, *, arrived: bool) -> None:
        self._folder, self._influx, self._arrived = folder, influx, arrived
        self._opened: list[Callable[[], None]] = []

    def open(self) -> tuple[SqliteReadingStore | InfluxReadingStore, SqliteReadings | InfluxReadings]:
        """The writing and the reading side of a new store."""
        path = self._folder() / "garden.db"
        if self._influx is None:
            store, readings = SqliteReadingStore(path), SqliteReadings(path)
            self._opened += [store.close, readings.close]
            return store, readings
        database = f"contract{next(_NUMBERS)}"
        self._influx.make(database)
        settings = self._influx.settings(path, database)
        queue, influxql = Queue(path, PROBES, settings.queue_most_bytes), InfluxQL(settings)
        shipper = Shipper(queue, influxql, settings, FakeClock())
        readings_there = InfluxReadings(path, influxql)
        self._opened += [readings_there.close, shipper.close, influxql.close, queue.close]
        kept = ShippingStore(queue, influxql, shipper) if self._arrived else InfluxReadingStore(queue, influxql)
        return kept, readings_there

    def close(self) -> None:
        for close in self._opened:
            close()


@pytest.fixture(
    params=[
        "sqlite",
        pytest.param("influx, all waiting", marks=pytest.mark.influx),
        pytest.param("influx, all arrived", marks=pytest.mark.influx),
    ]
)
def stores(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stores]:
    influx = None if request.param == "sqlite" else request.getfixturevalue("influx")
    made = Stores(lambda: tmp_path_factory.mktemp("store"), influx, arrived="arrived" in request.param)
    yield made
    made.close()


@pytest.fixture
def opened(stores):
    return stores.open()


@pytest.fixture
def store(opened):
    return opened[0]


@pytest.fixture
def readings(opened):
    return opened[1]


@pytest.fixture(params=[FakeSeason, SqliteSeason])
def season(request, tmp_path):
    """The stand-in and the real store keep the same promises."""
    store = request.param() if request.param is FakeSeason else SqliteSeason(tmp_path / "garden.db")
    yield store
    if isinstance(store, SqliteSeason):
        store.close()
