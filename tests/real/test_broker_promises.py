"""What a broker promises and does not keep, found out at a real Mosquitto; and collectors that know of each other."""

from __future__ import annotations

import pytest

from collector.clock import SystemClock
from collector.settings import MqttSettings
from collector.sources.broker_trial import MESSAGES, kept_for_the_absent
from collector.sources.broker_watch import BrokerWatch
from collector.sources.mqtt import MqttSource
from tests.real.mosquitto import Mosquitto, missing, publish, wait_until

pytestmark = pytest.mark.broker


@pytest.fixture
def careless(tmp_path):
    """A Mosquitto that keeps as little as it does when nobody configures it."""
    why = missing()
    if why:
        pytest.skip(why)
    broker = Mosquitto(tmp_path)
    broker.run_with(f"listener {broker.port} 127.0.0.1\nallow_anonymous true\nsys_interval 1\n", broker.port)
    with broker:
        yield broker


def settings(port, name="test-terrace", **more) -> MqttSettings:
    return MqttSettings("127.0.0.1", ("garden/#",), port=port, client_id=name, **more)


@pytest.fixture
def watch():
    opened = []

    def open_one(*arguments, **more) -> BrokerWatch:
        opened.append(BrokerWatch(settings(*arguments, **more), SystemClock()))
        return opened[-1]

    yield open_one
    for one in opened:
        one.close()


def leaves_a_session(port):
    source = MqttSource(settings(port), SystemClock())
    source.take(0.5)
    assert source.trouble is None
    source.close()


def test_a_broker_that_keeps_enough_keeps_every_message_of_the_trial(mosquitto):
    assert kept_for_the_absent(settings(mosquitto.port), SystemClock()) == MESSAGES


def test_a_broker_as_it_comes_is_found_out_and_the_garden_is_left_alone(careless):
    leaves_a_session(careless.port)
    assert 1000 <= kept_for_the_absent(settings(careless.port), SystemClock()) < MESSAGES
    source = MqttSource(settings(careless.port), SystemClock())
    assert source.take(0.5) == []
    source.close()


def test_messages_that_the_broker_drops_are_told(careless, watch):
    one = watch(careless.port)
    assert one.troubles() == []
    leaves_a_session(careless.port)
    publish(careless.port, [("garden/a", b"%d" % number) for number in range(1200)])
    told = []
    wait_until(lambda: told.extend(one.troubles()) or told, 20)
    assert "messages since it started, and readings may be among them" in told[0]
    assert "max_queued_messages" in told[0]


def test_a_collector_of_a_group_that_dies_is_missed_by_the_others_and_not_when_it_is_back(mosquitto, watch):
    first, second = (watch(mosquitto.port, name, shared_group="terraces") for name in ("one", "two"))
    wait_until(lambda: (first.troubles(), second.troubles()) == ([], []) and len(first._members) == 2)
    second._client.socket().close()  # kill -9, as the broker sees it
    second._client = None
    told = []
    wait_until(lambda: told.extend(first.troubles()) or told)
    assert told[0].startswith("of the collectors that share the group 'terraces', two is away: its share of the readings waits")
    wait_until(lambda: (second.troubles(), first.troubles()) == ([], []))


def test_a_broker_that_is_away_is_no_news_of_the_watch(tmp_path, watch):
    broker = Mosquitto(tmp_path)
    one = watch(broker.port)
    assert one.troubles() == []
    with broker:
        wait_until(lambda: one.troubles() == [] and one._client is not None)
