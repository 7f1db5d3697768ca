"""Everything that can end under a collector ends, again and again: `python -m tests.crash.torture [KILLS] [PAYLOADS]`.

Each scenario raises AssertionError where a reading is missing or there twice, where the collector kept silent about what
was wrong, or where its memory grew. `test_torture.py` runs them short. Linux only, for its limits on a process.
"""

from __future__ import annotations

import collections
import os
import random
import resource
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from tests.crash.fuzz import fuzz
from tests.crash.guided import guided
from tests.crash.test_influx_away import stopped_and_started as influx_away
from tests.crash.test_kill import GARDEN, Collector, exported, stored
from tests.crash.test_wire_pulled import pulled
from tests.crash.watched import Memory, health_of
from tests.real.mosquitto import Mosquitto, wait_for_listener, wait_until
from tests.real.test_broker_hour import away

BURST = 1500
# Root may write everywhere, until it gives that right away.
_RIGHTS = "-dac_override,-dac_read_search"
AS_ANY_USER = ("setpriv", f"--bounding-set={_RIGHTS}", f"--inh-caps={_RIGHTS}") if os.geteuid() == 0 else ()


def garden_for(folder: Path, broker: Mosquitto) -> Path:
    """A garden file, with a session at the broker that waits for its collector."""
    file = folder / "garden.toml"
    file.write_text(GARDEN.format(port=broker.port))
    collector = Collector(file)
    wait_for_listener(broker.port, "garden/a", 30)
    assert collector.stop() == 0, log_of(file)
    return file


def log_of(garden: Path) -> str:
    return garden.with_name("collector.log").read_text()


class Publisher:
    """Says readings at QoS 1 and knows what was acknowledged to it: every other one with its time, the rest with none.

    Values come again and again, so that messages with no time are equal to many before them.
    """

    def __init__(self, port: int) -> None:
        self._port = port
        self._start_s = int(time.time()) - 10_000_000
        self.timed = self.timeless = 0
        self.values: collections.Counter[float] = collections.Counter()

    def burst(self, count: int) -> None:
        """Say so many and return when the broker has acknowledged every one."""
        client = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        client.max_inflight_messages_set(100)
        client.connect("127.0.0.1", self._port)
        client.loop_start()
        try:
            sent = [client.publish("garden/a", self._next(), qos=1) for _ in range(count)]
            for one in sent:
                one.wait_for_publish(60)
                assert one.is_published()
        finally:
            client.disconnect()
            client.loop_stop()

    def _next(self) -> bytes:
        if self.timed <= self.timeless:
            self.timed += 1
            return b'[{"n":"stake:timed","u":"Cel","t":%d,"v":18}]' % (self._start_s + self.timed)
        self.timeless += 1
        value = 15 + self.timeless % 7
        self.values[value] += 1
        return b'[{"n":"stake:timeless","u":"Cel","v":%d}]' % value

    @property
    def total(self) -> int:
        return self.timed + self.timeless

    def assert_all_stored_once(self, garden: Path) -> None:
        rows = exported(garden)
        timed = [row["time_utc"] for row in rows if row["probe"] == "with-time"]
        assert len(timed) == len(set(timed)) == self.timed
        values = collections.Counter(float(row["value"]) for row in rows if row["probe"] == "without-time")
        assert values == self.values


def killed(folder: Path, times: int, seed: int = 1) -> str:
    """kill -9 at random moments under load; every tenth time the broker is restarted too."""
    moments = random.Random(seed)
    with Mosquitto(folder) as broker, Memory() as memory:
        garden = garden_for(folder, broker)
        publisher = Publisher(broker.port)
        for number in range(times):
            collector = memory.collector = Collector(garden)
            publishing = threading.Thread(target=publisher.burst, args=(BURST,))
            publishing.start()
            time.sleep(moments.uniform(0.3, 2.0))
            memory.collector = None
            collector.kill()
            publishing.join()
            if number == 0:
                with health_of(garden) as page:
                    assert page.misses()
            if number % 10 == 9:
                broker.stop()
                broker.start()
        collector = memory.collector = Collector(garden)
        collector.wait_until_it_listens()
        wait_until(lambda: stored(garden.with_name("garden.db")) >= publisher.total, 120)
        time.sleep(0.5)  # for what should not come
        memory.collector = None
        assert collector.stop() == 0, log_of(garden)
    publisher.assert_all_stored_once(garden)
    memory.assert_bounded()
    return f"killed {times} times: {publisher.total} readings stored once each; at most {memory.most_mb:.0f} MB"


def disk_full(folder: Path) -> str:
    """No file of the collector may grow any further; then it may again."""
    with Mosquitto(folder) as broker, Memory() as memory, ExitStack() as opened:
        garden = garden_for(folder, broker)
        publisher = Publisher(broker.port)
        collector = memory.collector = Collector(garden)
        publisher.burst(BURST)
        database = garden.with_name("garden.db")
        wait_until(lambda: stored(database) == BURST, 30)
        full = max(file.stat().st_size for file in folder.glob("garden.db*"))
        resource.prlimit(collector.pid, resource.RLIMIT_FSIZE, (full, resource.RLIM_INFINITY))
        for _ in range(4):
            publisher.burst(BURST)
        wait_until(lambda: "messages wait to be stored" in log_of(garden), 30)
        assert stored(database) < publisher.total
        page = opened.enter_context(health_of(garden))
        wait_until(lambda: page.tells("messages wait to be stored"), 30)
        resource.prlimit(collector.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        wait_until(lambda: stored(database) >= publisher.total, 90)
        wait_until(lambda: "store: well again" in log_of(garden), 10)
        wait_until(lambda: page.now().well and "stored" not in page.now().status, 40)
        memory.collector = None
        assert collector.stop() == 0, log_of(garden)
    publisher.assert_all_stored_once(garden)
    memory.assert_bounded()
    return f"disk full and freed: {publisher.total} readings stored once each; at most {memory.most_mb:.0f} MB"


def read_only(folder: Path) -> str:
    """The file may not be written: the collector says so and ends; what comes waits at the broker."""
    home = folder / "home"
    home.mkdir()
    with Mosquitto(folder) as broker:
        garden = garden_for(home, broker)
        publisher = Publisher(broker.port)
        for file in (*home.iterdir(), home):
            file.chmod(0o555 if file.is_dir() else 0o444)
        publisher.burst(BURST)
        collector = Collector(garden, *AS_ANY_USER)
        assert collector.ended() == 1
        told = log_of(garden).splitlines()[-1]
        assert "written" in told, told
        with health_of(garden) as page:
            assert page.misses()
        for file in (home, *home.iterdir()):
            file.chmod(0o777 if file.is_dir() else 0o666)
        collector = Collector(garden)
        wait_until(lambda: stored(garden.with_name("garden.db")) >= publisher.total, 60)
        assert collector.stop() == 0, log_of(garden)
    publisher.assert_all_stored_once(garden)
    return f"file read-only and writable again: {publisher.total} readings stored once each"


def small_disk(folder: Path, size_mb: int = 2) -> str:
    """A real disk that is full, where this user may mount one of memory."""
    place = folder / "disk"
    place.mkdir()
    if os.system(f"mount -t tmpfs -o size={size_mb}m,mode=777 tmpfs {place} 2> {os.devnull}") != 0:
        return "small disk: not tried, this user may not mount one"
    try:
        with Mosquitto(folder) as broker, Memory() as memory, ExitStack() as opened:
            garden = garden_for(place, broker)
            publisher = Publisher(broker.port)
            collector = Collector(garden)
            database = garden.with_name("garden.db")
            page, memory.collector, until_s = opened.enter_context(health_of(garden)), collector, time.monotonic() + 120
            while "the disk is full" not in log_of(garden):
                publisher.burst(BURST)
                assert time.monotonic() < until_s, "the disk did not fill"
            wait_until(lambda: page.tells("the disk is full"), 30)
            os.system(f"mount -o remount,size=100m {place}")
            wait_until(lambda: stored(database) >= publisher.total, 120)
            memory.collector = None
            assert collector.stop() == 0, log_of(garden)
        publisher.assert_all_stored_once(garden)
        memory.assert_bounded()
        return f"small disk full and enlarged: {publisher.total} readings stored once each"
    finally:
        os.system(f"umount {place}")


def scenarios(kills: int, payloads: int) -> Iterator[str]:
    """Run all of it, one after the other."""
    runs = (
        lambda folder: killed(folder, kills),
        disk_full,
        read_only,
        small_disk,
        lambda folder: pulled(folder, max(3, kills // 4)),
        lambda folder: away(folder, max(1, kills // 20)),
        lambda folder: influx_away(folder, max(1, kills // 10)),
    )
    for run in runs:
        with tempfile.TemporaryDirectory(prefix="torture-") as name:
            yield run(Path(name))
    yield fuzz(payloads)
    yield guided(payloads)


if __name__ == "__main__":
    asked = [int(text) for text in sys.argv[1:]]
    for told in scenarios(*(asked + [100, 1_000_000][len(asked) :])):
        print(told, flush=True)  # noqa: T201
