"""kill -9 of the collector while messages stream in: each reading is stored, and once."""

from __future__ import annotations

import csv
import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest

from collector.clock import SystemClock
from collector.settings import MqttSettings
from collector.sources.mqtt import MqttSource
from tests.real.mosquitto import publish, wait_until

pytestmark = pytest.mark.broker

GARDEN = """
[garden]
name = "Test garden"
latitude_deg = 37.1
longitude_deg = -7.6
elevation_m = 60
timezone = "UTC"

[store]
path = "garden.db"

[mqtt]
host = "127.0.0.1"
port = {port}
topics = ["garden/#"]
client_id = "test-kill"

[[bed]]
id = "terrace"
name = "Terrace bed"
area_m2 = 7.2
soil = "sandy loam"

  [[bed.probe]]
  id = "with-time"
  quantity = "soil_temperature"
  depth_cm = 12
  address = "stake:timed"

  [[bed.probe]]
  id = "without-time"
  quantity = "soil_temperature"
  depth_cm = 12
  address = "stake:timeless"
"""

TIMED = 10_000
TIMELESS = 2000


class Collector:
    """`cooldepth collect` in a process of its own."""

    def __init__(self, garden: Path, *before: str) -> None:
        """`before` is a command that runs another one, with its arguments."""
        self._log_file = garden.parent / "collector.log"
        self._log = self._log_file.open("ab")
        self._said_before = self._log_file.stat().st_size
        call = [*before, sys.executable, "-m", "collector", "collect", "--garden", str(garden)]
        self._process = subprocess.Popen(call, stdout=self._log, stderr=self._log)

    @property
    def pid(self) -> int:
        return self._process.pid

    def resident_mb(self) -> float:
        """What it holds in memory now [MB]; 0 when it is gone."""
        status = Path(f"/proc/{self.pid}/status").read_text()
        return next((int(line.split()[1]) / 1024 for line in status.splitlines() if line.startswith("VmRSS")), 0.0)

    def wait_until_it_listens(self) -> None:
        """A SIGTERM that comes before this ends it as it would any program: with the status of the signal."""
        wait_until(lambda: b"listening on" in self._log_file.read_bytes()[self._said_before :], 30)

    def kill(self) -> None:
        """No goodbye at all."""
        self._end(signal.SIGKILL)

    def stop(self) -> int:
        return self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> int:
        os.kill(self._process.pid, how)
        return self.ended()

    def ended(self) -> int:
        """Its status, once it has ended by itself."""
        code = self._process.wait(timeout=30)
        self._log.close()
        return code


def stored(database: Path) -> int:
    """How many readings are on disk now."""
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as reader:
        if not reader.execute("SELECT 1 FROM sqlite_schema WHERE name = 'reading'").fetchone():
            return 0  # its file is there, and its tables are to come
        (count,) = reader.execute("SELECT count(*) FROM reading").fetchone()
    return int(count)


def exported(garden: Path) -> list[dict[str, str]]:
    told = subprocess.run(
        [sys.executable, "-m", "collector", "export", "--garden", str(garden), "--format", "csv"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, f"export ended with {told.returncode}: {told.stderr}"
    return list(csv.DictReader(told.stdout.splitlines()))


def messages(timed: int, timeless: int):
    """Timed readings, one a second, and among them readings with no time that all look much the same."""
    start_s = int(time.time()) - 2 * timed
    for number in range(timed):
        yield "garden/timed", b'[{"n":"stake:timed","u":"Cel","t":%d,"v":%.4f}]' % (start_s + number, 15 + number / 10_000)
        if number % (timed // timeless) == 0:
            yield "garden/timeless", b'[{"n":"stake:timeless","u":"Cel","v":15.%04d}]' % (number // (timed // timeless))


@pytest.fixture
def garden(tmp_path, broker):
    """A garden file whose session at the broker is made already, so that no message is for nobody."""
    file = tmp_path / "garden.toml"
    file.write_text(GARDEN.format(port=broker.port))
    source = MqttSource(MqttSettings("127.0.0.1", ("garden/#",), port=broker.port, client_id="test-kill"), SystemClock())
    source.take(0.5)
    assert source.trouble is None
    source.close()
    return file


def assert_each_stored_once(garden: Path, timed: int, timeless: int) -> None:
    """Each once: a reading without a time that is delivered again is the reading that it was."""
    rows = exported(garden)
    for probe, count in (("with-time", timed), ("without-time", timeless)):
        values = sorted(float(row["value"]) for row in rows if row["probe"] == probe)
        assert values == pytest.approx([15 + number / 10_000 for number in range(count)], abs=1e-9)


def test_a_collector_killed_again_and_again_stores_each_reading_once(garden, broker):
    database = garden.with_name("garden.db")
    collector = Collector(garden)
    wait_until(database.exists)
    publishing = threading.Thread(target=publish, args=(broker.port, messages(TIMED, TIMELESS)))
    publishing.start()
    killed_at = []
    for _ in range(3):
        # Killed in the middle of its work: it has committed something in this life, and more is still to come.
        before = stored(database)
        wait_until(lambda before=before: stored(database) > before, 20)
        collector.kill()
        killed_at.append(stored(database))
        collector = Collector(garden)
    publishing.join()
    assert killed_at[-1] < TIMED + TIMELESS, f"the kills came too late to prove anything: {killed_at}"
    wait_until(lambda: stored(database) >= TIMED + TIMELESS, 30)
    time.sleep(0.5)  # for what should not come
    assert collector.stop() == 0, garden.with_name("collector.log").read_text()
    assert_each_stored_once(garden, TIMED, TIMELESS)


@pytest.mark.parametrize("moment", ["before", "after"])
def test_a_collector_that_dies_beside_a_commit_loses_and_doubles_nothing(garden, broker, moment):
    publish(broker.port, messages(2000, 500))
    driver = [sys.executable, "-m", "tests.crash.driver", str(garden), moment]
    died = subprocess.run(driver, cwd=Path(__file__).parents[2], check=False, timeout=30)
    assert died.returncode == -signal.SIGKILL
    database = garden.with_name("garden.db")
    assert 0 < stored(database) < 2500
    collector = Collector(garden)
    wait_until(lambda: stored(database) >= 2500, 20)
    time.sleep(0.3)  # for what should not come
    assert collector.stop() == 0
    assert_each_stored_once(garden, 2000, 500)
