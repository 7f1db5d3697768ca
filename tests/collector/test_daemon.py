"""The collector while it runs: advice waits for what is still coming in, and no slip of it stops the intake."""

import logging
import threading

import pytest

from collector import daemon
from collector.daemon import CATCHING_UP_MS, FIRST_ADVICE_S, Daemon
from collector.errors import StoreBusyError
from tests.fakes import NOW_MS, FakeClock


class ScriptedIntake:
    """Plays rounds (settled, newest measured, trouble), a second each, then tells the daemon to stop."""

    def __init__(self, clock, rounds):
        self.clock, self.rounds = clock, list(rounds)
        self.trouble, self.newest_measured_ms, self.ended = None, None, threading.Event()
        self.stop = None
        self.after_round = lambda: None
        self.finished_within_s = []

    def step(self, _wait_s):
        if not self.rounds:
            self.stop.set()
            return 0
        settled, self.newest_measured_ms, self.trouble = self.rounds.pop(0)
        self.clock.pass_s(1.0)
        self.after_round()
        return settled

    def finish(self, within_s):
        self.finished_within_s.append(within_s)
        return self.trouble is None


class Wire:
    name, can_acknowledge, trouble = "serial /dev/test", False, None
    closed = 0

    def close(self):
        self.closed += 1


@pytest.fixture
def run(monkeypatch):
    """Runs a daemon over scripted rounds; answers what the second thread was asked, in order."""
    monkeypatch.setattr(daemon, "LOOK_EVERY_S", 0.001)

    def start(rounds, advise=lambda: None, wire=None, carriers=()):
        clock = FakeClock()
        intake = ScriptedIntake(clock, rounds)
        asked, looked = [], threading.Event()

        def report(troubles):
            asked.append(("report", tuple(troubles)))
            looked.set()

        def noted_advice():
            asked.append(("advise",))
            advise()

        one = Daemon(intake, [wire or Wire()], report, noted_advice, clock, carriers)
        intake.stop = one.stop

        def wait_for_a_look():
            looked.clear()
            assert looked.wait(5)

        intake.after_round = wait_for_a_look
        one.run()
        return asked

    return start


QUIET = (0, None, None)
SETTLING = int(FIRST_ADVICE_S) + 2


def test_advice_comes_when_nothing_has_come_in_for_a_while(run):
    assert ("advise",) in run([QUIET] * (SETTLING + 3))


def test_advice_waits_while_old_readings_are_still_coming_in(run):
    assert ("advise",) not in run([(10, NOW_MS - CATCHING_UP_MS - 60_000, None)] * (SETTLING + 3))


def test_fresh_readings_do_not_hold_advice_up(run):
    assert ("advise",) in run([(10, NOW_MS + 1000, None)] * (SETTLING + 3))


def test_advice_waits_while_readings_wait_for_the_store(run):
    asked = run([(0, None, "the disk is full")] * (SETTLING + 3))
    assert ("advise",) not in asked
    assert ("report", ("the disk is full",)) in asked


def test_the_collector_reports_itself_from_the_first_moment_on(run):
    assert run([QUIET])[0] == ("report", ())


def test_a_slip_in_a_rule_is_logged_and_the_intake_goes_on(run, caplog):
    def slip():
        raise ZeroDivisionError

    with caplog.at_level(logging.ERROR, logger="cooldepth"):
        asked = run([QUIET] * (SETTLING + 5), advise=slip)
    assert asked.count(("advise",)) > 1
    assert "this look failed" in caplog.text


def test_at_the_end_every_wire_is_let_go(run, caplog):
    wire = Wire()
    with caplog.at_level(logging.INFO, logger="cooldepth"):
        run([QUIET], wire=wire)
    assert wire.closed
    assert "cannot be asked to send again" in caplog.text
    assert "everything acknowledged is stored" in caplog.text


def test_at_the_end_what_is_in_hand_is_stored_or_it_is_told_that_it_was_not(run, caplog):
    with caplog.at_level(logging.INFO, logger="cooldepth"):
        run([QUIET])
        assert "stopped before all" not in caplog.text
        run([(0, None, "the disk is full")])
    assert "stopped before all that was read could be stored: the disk is full" in caplog.text


def test_a_trouble_is_logged_once_when_it_comes_and_once_when_it_goes(run, caplog):
    with caplog.at_level(logging.INFO, logger="cooldepth"):
        run([(0, None, "the disk is full")] * 3 + [QUIET] * 3)
    assert caplog.text.count("store: the disk is full") == 1
    assert caplog.text.count("store: well again") == 1


class Carrier:
    """Slips in its first step, and is in trouble after its second."""

    name, trouble = "influx http://test", None

    def __init__(self):
        self.steps = 0

    def step(self):
        self.steps += 1
        if self.steps == 1:
            raise ZeroDivisionError
        self.trouble = "it is away"
        return 0.001


def test_what_is_carried_on_goes_on_after_a_slip_and_its_trouble_is_told(run, caplog):
    carrier = Carrier()
    with caplog.at_level(logging.INFO, logger="cooldepth"):
        asked = run([QUIET] * 10, carriers=[carrier])
    assert carrier.steps > 2
    assert ("report", ("it is away",)) in asked
    assert "influx http://test: this step failed" in caplog.text
    assert caplog.text.count("influx http://test: it is away") == 1


def test_an_advice_that_cannot_be_given_for_long_is_logged_once(run, caplog):
    def away():
        raise StoreBusyError("InfluxDB is away")

    with caplog.at_level(logging.WARNING, logger="cooldepth"):
        asked = run([QUIET] * (SETTLING + 8), advise=away)
    assert asked.count(("advise",)) > 2
    assert caplog.text.count("InfluxDB is away") == 1
