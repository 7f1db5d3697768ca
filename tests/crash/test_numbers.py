"""Message numbers that come again for new messages: no reading takes the place of another."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

from tests.crash.test_kill import GARDEN, Collector, stored
from tests.real.mosquitto import Mosquitto, missing, publish, wait_for_listener, wait_until

pytestmark = pytest.mark.broker

# All alike, with no time of their own: only their numbers tell them apart.
ALIKE = ("garden/a", b'[{"n":"stake:timeless","u":"Cel","v":17.4375}]')


@pytest.fixture
def forgetful(tmp_path):
    """A broker that loses every session when it ends."""
    why = missing()
    if why:
        pytest.skip(why)
    broker = Mosquitto(tmp_path)
    plain = f"listener {broker.port} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 100000\nmax_inflight_messages 1000\n"
    broker.run_with(plain, broker.port)
    with broker:
        yield broker


def arrivals(database: Path) -> int:
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as reader:
        (count,) = reader.execute("SELECT count(*) FROM arrival").fetchone()
    return int(count)


def test_a_new_session_of_equal_messages_killed_before_its_commit_overwrites_nothing_of_the_old_one(tmp_path, forgetful):
    garden = tmp_path / "garden.toml"
    garden.write_text(GARDEN.format(port=forgetful.port))
    database = garden.with_name("garden.db")
    collector = Collector(garden)
    wait_for_listener(forgetful.port, "garden/a")
    publish(forgetful.port, [ALIKE] * 2000)
    wait_until(lambda: stored(database) == 2000, 30)
    assert collector.stop() == 0
    assert arrivals(database) >= 2000

    forgetful.stop()
    forgetful.start()
    driver = subprocess.Popen([sys.executable, "-m", "tests.crash.driver", str(garden), "before"], cwd=Path(__file__).parents[2])
    wait_until(lambda: arrivals(database) == 0, 20)
    wait_for_listener(forgetful.port, "garden/a")
    publishing = threading.Thread(target=publish, args=(forgetful.port, [ALIKE] * 2000))
    publishing.start()
    assert driver.wait(timeout=30) == -signal.SIGKILL
    publishing.join()
    assert stored(database) < 4000, "the kill came too late to prove anything"

    collector = Collector(garden)
    wait_until(lambda: stored(database) >= 4000, 30)
    assert collector.stop() == 0
    assert stored(database) == 4000
