"""A real broker, a real InfluxDB, and whatever may be away or die between them: every reading arrives, and once."""

from __future__ import annotations

import json
import math
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from collector.stores.queue import ROW_BYTES
from collector.stores.sqlite import SqliteReadings
from tests.crash.test_kill import GARDEN, Collector, exported
from tests.crash.watched import HealthPage, Memory, health_of
from tests.real.influx import Influx, missing
from tests.real.mosquitto import Mosquitto, publish, wait_for_listener, wait_until

pytestmark = [pytest.mark.broker, pytest.mark.influx]

STORE = """
[store]
kind = "influx"
path = "garden.db"
url = "{url}"
org = "garden"
bucket = "beds"
"""


@pytest.fixture
def influx(tmp_path: Path) -> Iterator[Influx]:
    """One of this test's own, which it may stop and start."""
    why = missing()
    if why:
        pytest.skip(why)
    with Influx(tmp_path) as server:
        server.make("beds")
        yield server


@pytest.fixture
def garden(tmp_path: Path, broker: Mosquitto, influx: Influx) -> Path:
    return garden_of(tmp_path, broker, influx)


def garden_of(folder: Path, broker: Mosquitto, influx: Influx) -> Path:
    """A garden file, with a session at the broker that waits for its collector."""
    file = folder / "garden.toml"
    whole = GARDEN.format(port=broker.port).replace('[store]\npath = "garden.db"\n', STORE.format(url=influx.url).lstrip())
    file.write_text(whole)
    with running(file):
        wait_for_listener(broker.port, "garden/a", 30)
    return file


@contextmanager
def running(garden: Path) -> Iterator[Collector]:
    log = garden.with_name("collector.log")
    starts = log.read_text().count("listening on") if log.exists() else 0
    collector = Collector(garden)
    try:
        wait_until(lambda: log_of(garden).count("listening on") > starts, 60)
        yield collector
    finally:
        assert collector.stop() == 0, log_of(garden)


def log_of(garden: Path) -> str:
    return garden.with_name("collector.log").read_text()


def queued(garden: Path) -> int:
    """How many readings wait for InfluxDB, as /health tells it."""
    with closing(SqliteReadings(garden.with_name("garden.db"))) as readings:
        return readings.counts().waiting


def messages(count: int, first: int = 0) -> Iterator[tuple[str, bytes]]:
    """Readings with a time, one a second, and among each four one that has none and looks much like all the others."""
    start_s = 1_776_081_600
    for number in range(first, first + count):
        yield "garden/timed", b'[{"n":"stake:timed","u":"Cel","t":%d,"v":%.4f}]' % (start_s + number, 15 + number / 10_000)
        if number % 4 == 0:
            yield "garden/timeless", b'[{"n":"stake:timeless","u":"Cel","v":15.%04d}]' % (number % 100)


def arrived(influx: Influx) -> int:
    series = influx.ask('SELECT count("value") FROM "reading"', "beds")
    return int(series[0]["values"][0][1]) if series else 0


def assert_each_arrived_once(influx: Influx, garden: Path, count: int) -> None:
    """InfluxDB itself is asked, and then the export, against what was published."""
    timed = influx.ask('SELECT "value" FROM "reading" WHERE "probe" = \'with-time\'', "beds")[0]["values"]
    assert [time_ms for time_ms, _ in timed] == [(1_776_081_600 + number) * 1000 for number in range(count)]
    assert [value for _, value in timed] == pytest.approx([15 + number / 10_000 for number in range(count)], abs=1e-9)
    timeless = influx.ask('SELECT "value" FROM "reading" WHERE "probe" = \'without-time\'', "beds")[0]["values"]
    said = [15 + number % 100 / 10_000 for number in range(0, count, 4)]
    assert sorted(value for _, value in timeless) == pytest.approx(sorted(said), abs=1e-9)
    assert len(exported(garden)) == count + math.ceil(count / 4)
    assert queued(garden) == 0


def whole(count: int) -> int:
    return count + math.ceil(count / 4)


def test_from_the_broker_to_influxdb_and_back_out_of_the_export(garden, broker, influx):
    with running(garden):
        publish(broker.port, messages(2000))
        wait_until(lambda: arrived(influx) == whole(2000), 60)
    assert_each_arrived_once(influx, garden, 2000)
    point = influx.ask('SELECT * FROM "reading" WHERE "probe" = \'with-time\' LIMIT 1', "beds")[0]
    held = dict(zip(point["columns"], point["values"][0], strict=True))
    assert (held["bed"], held["quantity"], held["value"], held["raw"]) == ("terrace", "soil_temperature", 15, 15)


def test_influxdb_that_is_not_up_yet_loses_nothing_and_is_told(garden, broker, influx):
    influx.stop()
    with running(garden):
        publish(broker.port, messages(1000))
        wait_until(lambda: queued(garden) == whole(1000), 30)
        wait_until(lambda: "readings wait on this computer: InfluxDB" in log_of(garden), 30)
        influx.start()
        wait_until(lambda: arrived(influx) == whole(1000), 120)
        wait_until(lambda: f"influx {influx.url}: well again" in log_of(garden), 30)
    assert_each_arrived_once(influx, garden, 1000)


def away_once(garden: Path, broker: Mosquitto, influx: Influx, turn: int, page: HealthPage) -> None:
    """InfluxDB and its proxy stopped under load and started again."""
    first = 5000 * turn
    publish(broker.port, messages(1500, first))
    influx.stop()  # the proxy answers 502
    publish(broker.port, messages(1500, first + 1500))
    influx.stop_proxy()  # nobody answers
    publish(broker.port, messages(1500, first + 3000))
    wait_until(lambda: queued(garden) >= whole(3000), 30)
    wait_until(lambda: "InfluxDB" in page.now().status, 30)
    assert page.now().queue_depth >= whole(3000)
    influx.start_proxy()
    influx.start()
    publish(broker.port, messages(500, first + 4500))
    wait_until(lambda: arrived(influx) == whole(first + 5000), 120)
    wait_until(lambda: page.now().queue_depth == 0 and "InfluxDB" not in page.now().status, 40)


def stopped_and_started(folder: Path, times: int) -> str:
    """The same so many times."""
    if why := missing():
        return f"InfluxDB away: not tried, {why}"
    with Mosquitto(folder) as broker, Influx(folder) as influx:
        influx.make("beds")
        garden = garden_of(folder, broker, influx)
        with running(garden) as collector, health_of(garden) as page, Memory(collector) as memory:
            for turn in range(times):
                away_once(garden, broker, influx, turn, page)
            memory.collector = None
        assert_each_arrived_once(influx, garden, 5000 * times)
        memory.assert_bounded()
    return (
        f"InfluxDB away {times} times under load: {whole(5000 * times)} readings there once each; at most {memory.most_mb:.0f} MB"
    )


def test_influxdb_and_its_proxy_stopped_under_load_and_started_again(tmp_path):
    assert "once each" in stopped_and_started(tmp_path, 1)


def test_a_collector_killed_with_a_full_queue_and_while_it_empties_ships_each_reading_once(garden, broker, influx):
    influx.stop()
    collector = Collector(garden)
    publish(broker.port, messages(12_000))
    wait_until(lambda: queued(garden) == whole(12_000), 60)
    collector.kill()
    influx.start()
    killed_at = []
    for _ in range(3):
        collector = Collector(garden)
        before = arrived(influx)
        wait_until(lambda before=before: arrived(influx) > before, 60)
        collector.kill()
        killed_at.append(arrived(influx))
        if killed_at[-1] == whole(12_000):
            break
    assert killed_at[0] < whole(12_000), f"the kills came too late to prove anything: {killed_at}"
    with running(garden):
        wait_until(lambda: arrived(influx) == whole(12_000) and queued(garden) == 0, 60)
    assert_each_arrived_once(influx, garden, 12_000)


def test_at_the_bound_of_the_queue_nothing_more_is_acknowledged_and_nothing_is_missing_in_the_end(garden, broker, influx):
    garden.write_text(garden.read_text().replace('bucket = "beds"', 'bucket = "beds"\nqueue_most_mb = 1'))
    most = 1_000_000 // ROW_BYTES
    influx.stop()
    with running(garden):
        publish(broker.port, messages(14_000))
        wait_until(lambda: "queue_most_mb lets no more of them in" in log_of(garden), 60)
        held = queued(garden)
        assert most - 2000 < held <= most, "filled up to the bound, but for the batch that did not fit"
        time.sleep(2)
        assert queued(garden) == held
        with health_of(garden) as page:
            wait_until(lambda: "what serial lines say meanwhile is lost" in page.now().status, 30)
            assert page.now().queue_depth == held
            wait_until(lambda: [notice for notice in page.queries.notices() if "No more readings" in notice.title], 30)
            assert [notice.bed_id for notice in page.queries.notices()] == ["the collector"]
            influx.start()
            wait_until(lambda: arrived(influx) == whole(14_000), 180)
            wait_until(lambda: all(notice.cleared_ms for notice in page.queries.notices()), 60)
    assert_each_arrived_once(influx, garden, 14_000)


def test_the_check_tells_what_is_wrong_with_influxdb_and_when_all_is_well(garden, influx):
    def told() -> dict[str, str | None]:
        call = [sys.executable, "-m", "collector", "check", "--garden", str(garden), "--json"]
        answer = subprocess.run(call, capture_output=True, text=True, check=False)
        return {one["what"]: one["trouble"] for one in json.loads(answer.stdout)}

    name = f"influx {influx.url}"
    assert told()[name] is None
    assert arrived(influx) == 0, "the check wrote something"
    influx.ask('DROP DATABASE "beds"', post=True)
    assert "see that bucket beds is there" in told()[name]
    influx.stop_proxy()
    assert "cannot be reached" in told()[name]
