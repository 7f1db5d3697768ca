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

from tests.real.mosquitto import Mosquitto, missing, publish, wait_until

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

    def __init__(self, garden: Path) -> None:
        self._log = (garden.parent / "collector.log").open("ab")
        self._process = subprocess.Popen(
            [sys.executable, "-m", "collector", "collect", "--garden", str(garden)], stdout=self._log, stderr=self._log
        )

    def kill(self) -> None:
        """No goodbye at all."""
        self._end(signal.SIGKILL)

    def stop(self) -> int:
        return self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> int:
        os.kill(self._process.pid, how)
        code = self._process.wait(timeout=20)
        self._log.close()
        return code


def stored(database: Path) -> int:
    """How many readings are on disk now."""
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as reader:
        (count,) = reader.execute("SELECT count(*) FROM reading").fetchone()
    return int(count)


def exported(garden: Path) -> list[dict[str, str]]:
    told = subprocess.run(
        [sys.executable, "-m", "collector", "export", "--garden", str(garden), "--format", "csv"],
        capture_output=True,
        text=True,
        check=True,
    )
    return list(csv.DictReader(told.stdout.splitlines()))


@pytest.fixture
def broker(tmp_path):
    why = missing()
    if why:
        pytest.skip(why)
    with Mosquitto(tmp_path) as mosquitto:
        yield mosquitto


def messages(start_s: int):
    """Timed readings, one a second, and among them readings with no time that all look much the same."""
    for number in range(TIMED):
        yield "garden/timed", b'[{"n":"stake:timed","u":"Cel","t":%d,"v":%.4f}]' % (start_s + number, 15 + number / 10_000)
        if number % (TIMED // TIMELESS) == 0:
            yield "garden/timeless", b'[{"n":"stake:timeless","u":"Cel","v":15.%04d}]' % (number // (TIMED // TIMELESS))


def test_a_collector_killed_again_and_again_stores_each_reading_once(tmp_path, broker):
    garden = tmp_path / "garden.toml"
    garden.write_text(GARDEN.format(port=broker.port))
    start_s = int(time.time()) - 2 * TIMED

    # The session is made before the first message, so that nothing is for nobody.
    collector = Collector(garden)
    database = tmp_path / "garden.db"
    wait_until(database.exists)
    time.sleep(1.5)

    publishing = threading.Thread(target=lambda: publish(broker.port, messages(start_s)))
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
    assert collector.stop() == 0, (tmp_path / "collector.log").read_text()
    rows = exported(garden)
    values = {probe: [row["value"] for row in rows if row["probe"] == probe] for probe in ("with-time", "without-time")}
    assert sorted(map(float, values["with-time"])) == pytest.approx([15 + number / 10_000 for number in range(TIMED)], abs=1e-9)
    # Each once: a timeless reading that is delivered again is the reading that it was.
    assert sorted(map(float, values["without-time"])) == pytest.approx(
        [15 + number / 10_000 for number in range(TIMELESS)], abs=1e-9
    )
