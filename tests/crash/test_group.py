"""Two collectors share one stream of messages; one of them is killed in the middle of it."""

from __future__ import annotations

import subprocess
import sys
import threading
import time

import pytest

from collector.stores.season import SqliteSeason
from tests.crash.test_kill import GARDEN, Collector, exported, stored
from tests.real.mosquitto import publish, wait_for_listener, wait_until

pytestmark = pytest.mark.broker

READINGS = 5000


def paced(messages):
    """Slow enough that the kill comes in the middle."""
    for number, message in enumerate(messages):
        if number % 100 == 0:
            time.sleep(0.03)
        yield message


@pytest.fixture
def gardens(tmp_path, broker):
    """Two garden files, as of two computers."""
    made = []
    for name in ("one", "two"):
        file = tmp_path / name / "garden.toml"
        file.parent.mkdir()
        text = GARDEN.format(port=broker.port)
        file.write_text(text.replace('client_id = "test-kill"', f'client_id = "{name}"\nshared_group = "terraces"'))
        made.append(file)
    return made


def troubles(garden):
    season = SqliteSeason(garden.with_name("garden.db"))
    report = season.last_report()
    season.close()
    return report.troubles if report else ()


def test_two_collectors_of_a_group_lose_and_double_nothing_and_miss_each_other(gardens, broker):
    one, two = gardens
    databases = [garden.with_name("garden.db") for garden in gardens]
    start_s = int(time.time()) - READINGS
    readings = [("garden/a", b'[{"n":"stake:timed","u":"Cel","t":%d,"v":18}]' % (start_s + n)) for n in range(READINGS)]
    steady, dying = Collector(one), Collector(two)
    try:
        for garden in gardens:
            wait_until(lambda garden=garden: troubles(garden) == () and garden.with_name("garden.db").exists(), 20)
        wait_for_listener(broker.port, "garden/a")
        # both have subscribed: each gets its share
        wait_until(lambda: publish(broker.port, readings[:20]) or all(stored(each) for each in databases), 20)
        publishing = threading.Thread(target=publish, args=(broker.port, paced(readings)))
        publishing.start()
        before = stored(databases[1])
        wait_until(lambda: stored(databases[1]) > before + 200, 20)
        dying.kill()
        publishing.join()
        assert sum(map(stored, databases)) < READINGS, "the kill came too late to prove anything"
        wait_until(lambda: any("two is away: its share of the readings waits" in each for each in troubles(one)), 40)
        dying = Collector(two)
        wait_until(lambda: len({row["time_utc"] for garden in gardens for row in exported(garden)}) == READINGS, 40)
        wait_until(lambda: troubles(one) == (), 40)
    finally:
        ends = steady.stop(), dying.stop()
    assert ends == (0, 0)
    shares = [[row["time_utc"] for row in exported(garden)] for garden in gardens]
    assert all(len(share) == len(set(share)) for share in shares)
    assert len(set(shares[0]) | set(shares[1])) == READINGS
    assert len(set(shares[0]) & set(shares[1])) <= 20, "only what was said again and again to begin with may be in both"


def test_a_second_collector_on_one_store_file_is_turned_away(tmp_path, broker):
    garden = tmp_path / "garden.toml"
    garden.write_text(GARDEN.format(port=broker.port))
    first = Collector(garden)
    try:
        wait_until(garden.with_name("garden.db.collector").exists, 20)
        time.sleep(0.2)
        call = [sys.executable, "-m", "collector", "collect", "--garden", str(garden)]
        second = subprocess.run(call, capture_output=True, text=True, timeout=30, check=False)
    finally:
        assert first.stop() == 0
    assert second.returncode == 1
    assert "another collector uses this file, and a file is for one" in second.stderr
