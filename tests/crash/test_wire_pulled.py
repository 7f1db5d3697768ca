"""A serial cable that is pulled in mid-line and plugged in again: half a line is no reading, and none is there twice."""

from __future__ import annotations

import os
import tty

from tests.crash.test_kill import GARDEN, Collector, exported, stored
from tests.crash.watched import Memory, health_of
from tests.real.mosquitto import wait_until

START_S = 1_790_000_000
LINE = b'[{"n":"stake:timed","u":"Cel","t":%d,"v":18.25}]\n'


class Cable:
    """A pseudo-terminal behind a path that is there only while it is plugged in."""

    def __init__(self, path):
        self.path = path

    def plug_in(self):
        self.stake, self._port = os.openpty()
        tty.setraw(self._port)
        self.path.symlink_to(os.ttyname(self._port))

    def pull(self):
        self.path.unlink()
        os.close(self._port)
        os.close(self.stake)

    def say(self, line):
        os.write(self.stake, line)


def pulled(folder, turns):
    """The cable pulled in the middle of a line, and plugged in again, so many times."""
    cable, garden = Cable(folder / "wire"), folder / "garden.toml"
    head, rest = GARDEN.split("[mqtt]")
    garden.write_text(f'{head}[[serial]]\nport = "{cable.path}"\nbaud = 115200\n\n{rest[rest.index("[[bed]]") :]}')
    database = garden.with_name("garden.db")

    def log():
        return garden.with_name("collector.log").read_text()

    cable.plug_in()
    collector = Collector(garden)
    with Memory(collector) as memory:
        try:
            wait_until(database.exists, 20)
            with health_of(garden) as page:
                wait_until(lambda: cable.say(LINE % START_S) or stored(database) == 1, 20)
                for turn in range(1, turns + 1):
                    pulled_once(cable, database, page, turn, log)
        finally:
            memory.collector = None
            status = collector.stop()
    assert status == 0, log()
    rows = exported(garden)
    assert len({row["time_utc"] for row in rows}) == len(rows) == 1 + 2 * turns
    assert {float(row["value"]) for row in rows} == {18.25}
    memory.assert_bounded()
    return f"cable pulled {turns} times in the middle of a line: nothing lost, nothing invented; at most {memory.most_mb:.0f} MB"


def pulled_once(cable, database, page, turn, log):
    second = START_S + 10 * turn
    cable.say(LINE % second)
    cut = LINE % (second + 1)
    cable.say(cut[: cut.index(b".25")])  # 18 would be a reading, and a wrong one
    wait_until(lambda: stored(database) == 2 * turn, 20)
    cable.pull()
    wait_until(lambda: log().count(f"there is no {cable.path}") == turn, 20)
    if turn == 1:  # the pages are told every ten seconds
        wait_until(lambda: f"there is no {cable.path}" in page.now().status, 20)
    cable.plug_in()
    wait_until(lambda: log().count(f"serial {cable.path}: well again") == turn, 20)
    if turn == 1:
        wait_until(lambda: "there is no" not in page.now().status, 20)
    refused = page.now().refused_total
    cable.say(cut[cut.index(b".25") :])  # a stake that goes on where it was
    cable.say(LINE % second)  # and says again what it may not have been heard to say
    cable.say(LINE % (second + 2))
    wait_until(lambda: stored(database) == 2 * turn + 1, 20)
    assert page.now().refused_total == refused + 1


def test_a_cable_pulled_in_the_middle_of_a_line_and_plugged_in_again_loses_and_invents_nothing(tmp_path):
    assert "nothing lost, nothing invented" in pulled(tmp_path, 3)
