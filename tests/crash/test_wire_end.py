"""A serial wire when the collector is told to stop: what it has said is stored."""

from __future__ import annotations

import os
import tty

from tests.crash.test_kill import GARDEN, Collector, stored
from tests.real.mosquitto import wait_until

LINES = 6000


def test_a_burst_of_lines_and_sigterm_at_once_stores_every_line(tmp_path):
    master, slave = os.openpty()
    tty.setraw(slave)
    head, rest = GARDEN.split("[mqtt]")
    beds = rest[rest.index("[[bed]]") :]
    garden = tmp_path / "garden.toml"
    garden.write_text(f'{head}[[serial]]\nport = "{os.ttyname(slave)}"\nbaud = 115200\n\n{beds}')
    database = garden.with_name("garden.db")
    line = b'[{"n":"stake:timed","u":"Cel","t":%d,"v":18}]\n'
    collector = Collector(garden)
    try:
        wait_until(database.exists, 20)
        # What is said before the port is open goes nowhere; the same reading again is the same reading.
        wait_until(lambda: os.write(master, line % 1_790_000_000) and stored(database) == 1, 20)
        for number in range(1, LINES):
            os.write(master, line % (1_790_000_000 + number))
    finally:
        status = collector.stop()
    assert status == 0
    os.close(master)
    os.close(slave)
    assert stored(database) == LINES
