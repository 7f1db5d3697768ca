"""When what a broker tells of itself becomes an alarm; that it tells it is tried at a real one."""

from types import SimpleNamespace

import pytest

from collector.calls import Due
from collector.settings import MqttSettings
from collector.sources.broker_watch import AWAY, DROPPED, MEMBERS, UP, BrokerWatch
from tests.fakes import FakeClock

HOUR_S = 3600.0


class Heard(BrokerWatch):
    """A watch that hears what the test says, as if from a broker that is up."""

    def hear(self, topic, payload):
        self._client = object()
        self._on_message(None, None, SimpleNamespace(topic=topic, payload=payload))

    def count(self, dropped):
        self.hear(DROPPED, b"%d" % dropped)

    def member(self, name, word):
        self.hear(f"{MEMBERS}/terraces/{name}", word)

    def lose(self):
        self._client = None


@pytest.fixture
def clock():
    return FakeClock(0)


@pytest.fixture
def watch(clock):
    return Heard(MqttSettings("127.0.0.1", ("garden/#",), client_id="one", shared_group="terraces"), clock)


def test_a_count_of_dropped_messages_alarms_when_it_grows_and_for_a_day(watch, clock):
    assert watch.dropped_alarm[0] is Due.NOT_KNOWN
    watch.count(0)
    assert watch.dropped_alarm is None
    watch.count(12)
    due, text = watch.dropped_alarm
    assert due is Due.SOON
    assert text.startswith("The broker 127.0.0.1:1883 has dropped 12 messages since it started")
    clock.pass_s(24 * HOUR_S)
    watch.count(12)
    assert watch.dropped_alarm is None


def test_dropping_that_goes_on_for_an_hour_is_more_pressing(watch, clock):
    for dropped in (10, 20, 30):
        watch.count(dropped)
        assert watch.dropped_alarm[0] is Due.SOON
        clock.pass_s(HOUR_S / 3)
    watch.count(40)
    assert watch.dropped_alarm[0] is Due.DUE


def test_dropping_that_begins_again_after_a_quiet_day_begins_anew(watch, clock):
    watch.count(10)
    clock.pass_s(30 * HOUR_S)
    watch.count(20)
    assert watch.dropped_alarm[0] is Due.SOON


def test_a_broker_that_is_away_tells_nothing_of_what_it_drops_or_of_the_group(watch, clock):
    watch.count(10)
    watch.member("two", AWAY)
    clock.pass_s(HOUR_S)
    watch.lose()
    assert watch.dropped_alarm[0] is watch.group_alarm[0] is Due.NOT_KNOWN


def test_a_collector_that_is_away_longer_than_a_new_start_takes_is_an_alarm_until_it_is_back(watch, clock):
    watch.member("one", UP)
    watch.member("two", UP)
    assert watch.group_alarm is None
    watch.member("two", AWAY)
    clock.pass_s(14 * 60)
    assert watch.group_alarm[0] is Due.NOT_KNOWN
    clock.pass_s(60)
    due, text = watch.group_alarm
    assert due is Due.SOON
    assert "'terraces', two is away: its share of the readings waits at the broker until it is back." in text
    watch.member("two", UP)
    assert watch.group_alarm is None
    watch.member("two", AWAY)
    assert watch.group_alarm[0] is Due.NOT_KNOWN  # its patience begins anew


def test_two_that_are_away_or_one_for_a_day_are_more_pressing(watch, clock):
    watch.member("two", AWAY)
    watch.member("three", AWAY)
    clock.pass_s(HOUR_S)
    due, text = watch.group_alarm
    assert due is Due.DUE
    assert "three, two are away: their share" in text
    watch.member("three", b"")  # taken back for good
    assert watch.group_alarm[0] is Due.SOON
    clock.pass_s(23 * HOUR_S)
    assert watch.group_alarm[0] is Due.DUE


def test_a_collector_of_no_group_misses_nobody_and_a_member_does_not_miss_itself(watch, clock):
    alone = Heard(MqttSettings("127.0.0.1", ("garden/#",)), clock)
    assert alone.group_alarm is None
    watch.member("one", AWAY)  # its own word of before, not yet replaced
    clock.pass_s(HOUR_S)
    assert watch.group_alarm is None
