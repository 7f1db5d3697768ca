"""The way from the queue into a real InfluxDB: what it refuses, what it answers, and when it is not there."""

from __future__ import annotations

import json
import threading
from contextlib import closing
from http.server import BaseHTTPRequestHandler, HTTPServer
from itertools import count

import msgspec
import pytest

from collector.calls import Due
from collector.errors import StoreBusyError
from collector.model import Batch, Flag, Probe
from collector.settings import StoreSettings
from collector.stores.influx import InfluxReadings
from collector.stores.influxql import InfluxQL
from collector.stores.queue import ROW_BYTES, Queue
from collector.stores.shipper import ALARM_AFTER_S, IDLE_S, RETRY_MAX_S, Shipper
from collector.stores.sqlite import SqliteReadings
from collector.units import Quantity
from tests.collector.conftest import PROBES, ship_all
from tests.collector.made_readings import NOON_MS, everything, reading
from tests.fakes import FakeClock
from tests.real.mosquitto import free_port

_NUMBERS = count(1)
DAY_MS = 86_400_000


class Way:
    """A queue, its shipper, and readings over both."""

    def __init__(self, settings: StoreSettings) -> None:
        self.path, self.clock = settings.path, FakeClock()
        self.queue = Queue(settings.path, PROBES, settings.queue_most_bytes)
        self.influx = InfluxQL(settings)
        self.shipper = Shipper(self.queue, self.influx, settings, self.clock)
        self.readings = InfluxReadings(settings.path, self.influx)

    def refused(self) -> list[tuple[str, str]]:
        with closing(SqliteReadings(self.path)) as local:
            return [(one.payload.decode(), one.reason) for one in local.refused()]

    def close(self) -> None:
        for one in (self.readings, self.shipper, self.influx, self.queue):
            one.close()


@pytest.fixture
def database(influx):
    name = f"ship{next(_NUMBERS)}"
    influx.make(name)
    return name


@pytest.fixture
def way(influx, database, tmp_path):
    made = Way(influx.settings(tmp_path / "garden.db", database))
    yield made
    made.close()


@pytest.fixture
def nobody(tmp_path):
    """The way to a server that is not there."""
    url = f"http://127.0.0.1:{free_port()}"
    made = Way(StoreSettings(tmp_path / "garden.db", "influx", url, "garden", "beds", queue_most_bytes=10 * ROW_BYTES))
    yield made
    made.close()


# ---------------------------------------------------------------- what InfluxDB refuses


@pytest.mark.influx
def test_what_influxdb_refuses_is_set_aside_with_its_reason_and_everything_else_is_written(way, influx, database):
    # A field has one type in a measurement, in each week that InfluxDB keeps apart.
    influx.write(database, f"reading,probe=other flags=0.5 {NOON_MS - 30 * DAY_MS}")
    good = [reading("a", minute, minute / 7) for minute in range(20)] + [reading("b", 0, received_ms=0)]
    of_that_week = reading("t12", -30 * 24 * 60)
    # InfluxDB counts nanoseconds in 64 bits: in 36 million years none are left
    never = msgspec.structs.replace(good[0], measured_ms=2**60)
    way.queue.put(Batch(readings=(*good, of_that_week, never)))
    while way.queue.waiting:
        way.shipper.step()
    assert everything(way.readings, "a", "b") == sorted(good, key=lambda one: (one.measured_ms, one.probe_id))
    (bad_time, why_time), (bad_type, why_type) = sorted(way.refused())
    assert bad_time.startswith("reading,bed=terrace,probe=a,quantity=soil_temperature value=0.0,raw=0.0,flags=0i,received_ms=")
    assert "time outside range" in why_time
    assert "probe=t12" in bad_type
    assert "field type conflict" in why_type
    assert "2 readings were set aside" in way.shipper.trouble


@pytest.mark.influx
def test_a_bucket_in_which_ours_would_be_refused_is_told_before_anything_is(way, influx, database):
    way.shipper.reach()
    influx.write(database, f"reading,probe=other value=1i,flags=2i {NOON_MS}")
    with pytest.raises(StoreBusyError, match=r"whose value is integer, not float.* give store\.bucket another one"):
        way.shipper.reach()


@pytest.mark.influx
def test_a_database_that_is_not_there_keeps_everything_waiting_until_it_is(way, influx, database):
    influx.ask(f'DROP DATABASE "{database}"', post=True)
    way.queue.put(Batch(readings=(reading(),)))
    assert way.shipper.step() > IDLE_S
    assert f"see that bucket {database} is there" in way.shipper.trouble
    with pytest.raises(StoreBusyError, match="database not found"):  # which InfluxDB answers with 200
        way.readings.series("t12", 0, 2**62)
    influx.make(database)
    ship_all(way.queue, way.shipper)
    assert everything(way.readings, "t12") == [reading()]


class Answering:
    """A server that answers every request with the same, and keeps what it was asked."""

    def __init__(self, status: int, kind: str, body: bytes) -> None:
        asked = self.asked = []

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                asked.append((self.path, self.headers["Authorization"]))
                self.rfile.read(int(self.headers["Content-Length"] or 0))
                self.send_response(status)
                self.send_header("Content-Type", kind)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                pass

        self._server = HTTPServer(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02})
        self.url = f"http://127.0.0.1:{self._server.server_port}"

    def __enter__(self) -> Answering:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()


UNAUTHORIZED = json.dumps({"code": "unauthorized", "message": "unauthorized access"}).encode()
CONFLICT = json.dumps({"code": "unprocessable entity", "message": "field type conflict: dropped=1"}).encode()


@pytest.mark.parametrize(
    ("status", "body", "told"),
    [
        (400, b"<html>Request Header Or Cookie Too Large</html>", "it answers 400"),
        (401, UNAUTHORIZED, r"'unauthorized access'; put a token that may .* into COOLDEPTH_INFLUX_TOKEN"),
        (429, b"{}", "it answers 429"),
        (503, b"<html>", "it answers 503"),
    ],
)
def test_an_answer_that_blames_no_point_sets_nothing_aside(tmp_path, status, body, told):
    with Answering(status, "application/json", body) as server:
        way = Way(StoreSettings(tmp_path / "garden.db", "influx", server.url, "garden", "beds", token="a-token"))
        way.queue.put(Batch(readings=(reading(),)))
        way.queue.put(Batch(readings=(reading(minute=1),)))
        way.queue.drop(way.queue.take(1))  # that which would be looked for first
        assert way.shipper.step() > IDLE_S
        with pytest.raises(StoreBusyError, match=told):
            raise StoreBusyError(way.shipper.trouble)
        assert way.queue.waiting == 1
        assert way.refused() == []
        assert server.asked == [("/api/v2/write?org=garden&bucket=beds&precision=ms", "Token a-token")]
        way.close()


def test_influxdb_2_says_422_of_a_point_and_that_is_set_aside(tmp_path):
    with Answering(422, "application/json", CONFLICT) as server:
        way = Way(StoreSettings(tmp_path / "garden.db", "influx", server.url, "garden", "beds"))
        way.queue.put(Batch(readings=(reading(),)))
        way.queue.put(Batch(readings=(reading(minute=1), reading(minute=2))))
        way.queue.drop(way.queue.take(1))
        way.shipper.step()
        assert way.queue.waiting == 0
        assert [reason for _, reason in way.refused()] == [
            "t12: InfluxDB refused it, it answers 422, 'field type conflict: dropped=1'"
        ] * 2
        way.close()


# ---------------------------------------------------------------- when it is away, and when we die


def test_influxdb_that_is_away_is_tried_less_and_less_often_and_loses_nothing(nobody):
    nobody.queue.put(Batch(readings=(reading(),)))
    assert [nobody.shipper.step() for _ in range(8)] == [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, RETRY_MAX_S, RETRY_MAX_S]
    assert nobody.queue.waiting == 1
    assert "cannot be reached" in nobody.shipper.trouble
    with pytest.raises(StoreBusyError, match="cannot be reached"):
        nobody.readings.latest()
    assert nobody.readings.counts().waiting == 1


def test_an_hour_away_is_worth_a_message_and_a_full_queue_a_more_pressing_one(nobody):
    nobody.queue.put(Batch(readings=tuple(reading(minute=minute) for minute in range(8))))
    nobody.shipper.step()
    assert nobody.shipper.alarm == (Due.NOT_KNOWN, "")
    nobody.clock.pass_s(ALARM_AFTER_S)
    nobody.shipper.step()
    due, text = nobody.shipper.alarm
    assert due is Due.SOON
    assert text.startswith("8 readings wait on this computer, and there is room for 2 more: InfluxDB http://")
    with pytest.raises(StoreBusyError):
        nobody.queue.put(Batch(readings=tuple(reading(minute=minute) for minute in range(20, 24))))
    due, text = nobody.shipper.alarm
    assert due is Due.DUE
    assert text.startswith("The 8 readings that wait fill the queue, so that nothing more is taken: InfluxDB http://")


def test_a_collector_that_starts_while_influxdb_is_away_does_not_take_back_what_was_told(nobody):
    assert nobody.shipper.alarm == (Due.NOT_KNOWN, "")  # before it has tried at all
    nobody.queue.put(Batch(readings=(reading(),)))
    nobody.shipper.step()
    assert nobody.shipper.alarm == (Due.NOT_KNOWN, "")  # and until it is an hour since its own start


class DeadlyQueue(Queue):
    """A process that dies after the write and before it can note that it was made."""

    dies = True

    def drop(self, rows):
        if self.dies:
            raise SystemExit
        super().drop(rows)


@pytest.mark.influx
def test_a_death_between_the_write_and_its_note_doubles_and_moves_nothing(influx, database, tmp_path):
    settings = influx.settings(tmp_path / "garden.db", database)
    way = Way(settings)
    way.queue.put(Batch(readings=(reading(value=1.0, flags=Flag.JUMP),)))
    ship_all(way.queue, way.shipper)
    deadly = DeadlyQueue(settings.path, PROBES, 10**9)
    shipper = Shipper(deadly, way.influx, settings, FakeClock())
    # The same again, one beside it that must find a place of its own, and one that is new.
    deadly.put(Batch(readings=(reading(value=1.0), reading(minute=1)), beside=(reading(value=2.0),)))
    for _ in range(3):
        with pytest.raises(SystemExit):
            shipper.step()
    deadly.dies = False
    ship_all(deadly, shipper)
    found = everything(way.readings, "t12")
    assert [(one.measured_ms - NOON_MS, one.value, one.flags) for one in found] == [
        (0, 1.0, Flag.JUMP),
        (1, 2.0, Flag.NONE),
        (60_000, 12.0625, Flag.NONE),
    ]
    shipper.close()
    deadly.close()
    way.close()


@pytest.mark.influx
def test_a_mark_made_before_a_reading_came_is_not_put_on_it(way):
    way.queue.put(Batch(readings=(reading(minute=0),)))
    ship_all(way.queue, way.shipper)
    way.queue.mark("t12", 0, 2**62, Flag.DUG_UP, on=True)
    way.queue.put(Batch(readings=(reading(minute=1),)))
    expected = [reading(minute=0, flags=Flag.DUG_UP), reading(minute=1)]
    assert everything(way.readings, "t12") == expected, "while the mark waits"
    assert way.readings.series("t12", 0, 2**62).flags.tolist() == [int(Flag.DUG_UP), 0]
    assert way.readings.latest() == {"t12": reading(minute=1)}
    ship_all(way.queue, way.shipper)
    assert everything(way.readings, "t12") == expected, "when all has arrived"


# ---------------------------------------------------------------- reading


@pytest.mark.influx
def test_pages_of_any_size_give_the_same_readings(way):
    told = [reading("a", minute, minute / 7) for minute in range(50)]
    way.queue.put(Batch(readings=tuple(told)))
    ship_all(way.queue, way.shipper)
    for rows in (1, 7, 25, 50, 51):
        assert list(way.influx.readings("a", 0, 2**62, rows)) == told


@pytest.mark.influx
def test_what_waits_goes_before_what_has_arrived(way):
    way.queue.put(Batch(readings=(reading(value=1.0), reading(minute=1, value=2.0))))
    ship_all(way.queue, way.shipper)
    way.queue.put(Batch(readings=(reading(minute=1, value=3.0), reading(minute=2, value=4.0))))
    assert [one.value for one in everything(way.readings, "t12")] == [1.0, 3.0, 4.0]
    assert way.readings.series("t12", 0, 2**62).value.tolist() == [1.0, 3.0, 4.0]
    assert way.readings.latest()["t12"].value == 4.0


@pytest.mark.influx
@pytest.mark.parametrize("name", ["it's", 'a "b"', "back\\slash", "a b,c=d", "' OR ''='", "Süd-Hang"])
def test_no_name_of_a_probe_is_misread(influx, database, tmp_path, name):
    settings = influx.settings(tmp_path / "garden.db", database)
    probes = [Probe(id_, "bed, upper", Quantity.SOIL_TEMPERATURE, id_) for id_ in (name, "other")]
    with closing(Queue(settings.path, probes, 10**9)) as queue, closing(InfluxQL(settings)) as influxql:
        queue.put(Batch(readings=(reading(name, value=1.5), reading("other", value=2.5))))
        with closing(Shipper(queue, influxql, settings, FakeClock())) as shipper:
            ship_all(queue, shipper)
        assert list(influxql.readings(name, 0, 2**62)) == [reading(name, value=1.5)]
        assert {one.probe_id for one in influxql.newest()} == {name, "other"}
