"""The MQTT source against real brokers: Mosquitto, and the embedded one that speaks MQTT 3.1.1 only."""

from __future__ import annotations

import socket
import threading
import time
from contextlib import suppress

import paho.mqtt.client as paho
import pytest

from collector.clock import SystemClock
from collector.errors import SourceError
from collector.intake import Intake
from collector.model import PAYLOAD_LIMIT_BYTES, Envelope, Probe
from collector.settings import MqttSettings
from collector.sources.embedded import EmbeddedBroker
from collector.sources.mqtt import MqttSource
from collector.units import Quantity
from tests.fakes import FakeReadingStore
from tests.real.mosquitto import Mosquitto, free_port, publish, wait_until

pytestmark = pytest.mark.broker


class OldBroker:
    """Speaks a few words of MQTT 3.1.1 as OASIS 2014 has them, refuses MQTT 5, and every topic."""

    def __init__(self, *, answers: bool = True):
        self._answers = answers
        self.levels: list[int] = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self._thread = threading.Thread(target=self._serve)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join()

    def _serve(self):
        while True:
            try:
                wire, _ = self._listener.accept()
            except OSError:
                return
            with wire, suppress(OSError):
                wire.settimeout(1)
                self.levels.append(wire.recv(1000)[8])  # CONNECT: fixed header, "MQTT" with its length, level
                if not self._answers:
                    continue
                if self.levels[-1] != 4:
                    wire.sendall(bytes.fromhex("20020001"))  # CONNACK: unacceptable protocol version (3.2.2.3)
                    continue
                wire.sendall(bytes.fromhex("20020000"))  # CONNACK: accepted
                subscribe = wire.recv(1000)
                wire.sendall(bytes([0x90, 3, *subscribe[2:4], 0x80]))  # SUBACK: failure (3.9.3)
                wire.recv(1000)


def source_at(port, **settings) -> MqttSource:
    return MqttSource(MqttSettings("127.0.0.1", ("garden/#",), port=port, client_id="test-terrace", **settings), SystemClock())


def listening(source) -> MqttSource:
    """The source, once the broker has accepted it and knows its topics; for a source that nothing waits for."""
    wait_until(lambda: source.take(0.05) == [] and source._connection and source._connection.connected)
    source.take(0.05)
    return source


def take_all(source, count, *, acknowledge=True, seconds=10.0) -> list[Envelope]:
    came: list[Envelope] = []

    def more():
        some = source.take(0.1)
        came.extend(some)
        if acknowledge:
            source.acknowledge(some)
        return len(came) >= count

    wait_until(more, seconds)
    return came


def trouble_of(source, wanted, seconds=10.0) -> str:
    """Its trouble, once that holds the wanted words."""
    wait_until(lambda: source.take(0.05) is not None and wanted in (source.trouble or ""), seconds)
    return source.trouble


@pytest.fixture
def opened():
    """Sources to be closed at the end of the test."""
    sources: list[MqttSource] = []
    yield lambda source: sources.append(source) or source
    for source in sources:
        source.close()


def test_messages_come_in_order_with_topic_and_number(mosquitto, opened):
    source = listening(opened(source_at(mosquitto.port)))
    publish(mosquitto.port, [("garden/a", b"%d" % number) for number in range(300)])
    came = take_all(source, 300)
    assert [one.payload for one in came] == [b"%d" % number for number in range(300)]
    assert {one.source for one in came} == {"mqtt garden/a"}
    assert source.trouble is None


def test_what_comes_while_the_collector_is_away_waits_at_the_broker(mosquitto, opened):
    listening(source_at(mosquitto.port)).close()
    publish(mosquitto.port, [("garden/a", b"%d" % number) for number in range(2000)])
    came = take_all(opened(source_at(mosquitto.port)), 2000)
    assert [one.payload for one in came] == [b"%d" % number for number in range(2000)]


def test_what_was_not_acknowledged_comes_again_marked_so(mosquitto, opened):
    first = listening(source_at(mosquitto.port))
    publish(mosquitto.port, [("garden/a", b"%d" % number) for number in range(10)])
    came = take_all(first, 10, acknowledge=False)
    first.acknowledge(came[:4])
    time.sleep(0.2)  # the broker reads the acknowledgements
    first.close()
    again = take_all(opened(source_at(mosquitto.port)), 6)
    assert [one.payload for one in again] == [b"%d" % number for number in range(4, 10)]
    assert all(one.delivery.again for one in again)


def test_an_acknowledgement_of_a_lost_connection_goes_nowhere(mosquitto, opened):
    # A broker that lost its session numbers from 1 again: an old number would acknowledge a new message.
    source = listening(opened(source_at(mosquitto.port)))
    publish(mosquitto.port, [("garden/a", b"old")])
    old = take_all(source, 1, acknowledge=False)
    source._connection._client.socket().close()  # the network goes away
    mosquitto.stop()
    for kept in mosquitto.folder.glob("*.db"):
        kept.unlink()
    mosquitto.start()
    listening(source)
    publish(mosquitto.port, [("garden/a", b"new")])
    new = take_all(source, 1, acknowledge=False)
    assert new[0].delivery.message_id == old[0].delivery.message_id, "the case is not the one that this test is for"
    source.acknowledge(old)
    source.close()
    assert [one.payload for one in take_all(opened(source_at(mosquitto.port)), 1)] == [b"new"]


def test_a_broker_that_is_away_at_the_start_is_found_when_it_comes(tmp_path, opened):
    broker = Mosquitto(tmp_path)
    source = opened(source_at(broker.port))
    assert f"127.0.0.1:{broker.port} cannot be reached: Connection refused" in trouble_of(source, "cannot be reached")
    with broker:
        listening(source)
        assert source.trouble is None


def test_a_network_that_comes_up_after_the_collector_is_waited_for(mosquitto, opened, monkeypatch):
    """Without one no name is found, and no route leads anywhere."""
    real, down = socket.getaddrinfo, [True]

    def asked(host, *more, **named):
        if down[0]:
            raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")
        return real("127.0.0.1" if host == "broker.garden.example" else host, *more, **named)

    monkeypatch.setattr(socket, "getaddrinfo", asked)
    settings = MqttSettings("broker.garden.example", ("garden/#",), port=mosquitto.port, client_id="test-terrace")
    source = opened(MqttSource(settings, SystemClock()))
    assert "Temporary failure in name resolution; trying again" in trouble_of(source, "cannot be reached")
    down[0] = False
    listening(source)
    publish(mosquitto.port, [("garden/a", b"there")])
    assert [one.payload for one in take_all(source, 1)] == [b"there"]


def test_a_broker_that_restarts_loses_nothing(mosquitto, opened):
    source = listening(opened(source_at(mosquitto.port)))
    publish(mosquitto.port, [("garden/a", b"%d" % number) for number in range(50)])
    early = take_all(source, 50, acknowledge=False)
    source.acknowledge(early[:20])
    time.sleep(0.2)
    mosquitto.stop()
    assert "was lost" in trouble_of(source, "was lost") or "cannot be reached" in source.trouble
    mosquitto.start()
    publish(mosquitto.port, [("garden/a", b"%d" % number) for number in range(50, 60)])
    late = take_all(source, 40)
    assert [one.payload for one in early[:20] + late] == [b"%d" % number for number in range(60)]
    assert source.trouble is None


def test_a_wrong_password_is_told_and_a_right_one_gets_in(tmp_path, opened):
    broker = Mosquitto(tmp_path)
    broker.only_user("stake", "right")
    with broker:
        wrong = opened(source_at(broker.port, user="stake", password="wrong"))
        told = trouble_of(wrong, "refuses user")
        assert "'stake'" in told
        assert "COOLDEPTH_MQTT_PASSWORD" in told
        assert "wrong" not in told
        assert "wants a user" in trouble_of(opened(source_at(broker.port)), "wants a user")
        listening(opened(source_at(broker.port, user="stake", password="right")))


def test_two_clients_of_one_id_are_told(mosquitto, opened):
    first, second = opened(source_at(mosquitto.port)), opened(source_at(mosquitto.port))

    def both():
        first.take(0.02)
        second.take(0.02)
        return any("'test-terrace'" in (source.trouble or "") for source in (first, second))

    wait_until(both, 15)
    told = next(source.trouble for source in (first, second) if "'test-terrace'" in (source.trouble or ""))
    assert "another client uses client id 'test-terrace' too" in told


def test_a_broker_that_knows_only_mqtt_3_1_1_and_refuses_the_topic_is_told(opened):
    with OldBroker() as broker:
        assert "refuses topic 'garden/#'" in trouble_of(opened(source_at(broker.port)), "refuses topic")
        assert broker.levels == [5, 4], "MQTT 5 first, then 3.1.1"


def test_a_broker_that_grants_only_qos_0_is_told(mosquitto, opened):
    mosquitto.stop()
    mosquitto.configure("allow_anonymous true\nmax_qos 0")
    mosquitto.start()
    assert "QoS 0 only" in trouble_of(opened(source_at(mosquitto.port)), "QoS 0")


def test_a_topic_that_is_no_topic_filter_is_told(mosquitto, opened):
    source = opened(MqttSource(MqttSettings("127.0.0.1", ("garden/#/x",), port=mosquitto.port), SystemClock()))
    assert "'garden/#/x'" in trouble_of(source, "no topic filter")


def test_a_payload_of_five_megabytes_comes_as_its_head_and_true_length(mosquitto, opened):
    source = listening(opened(source_at(mosquitto.port)))
    publish(mosquitto.port, [("garden/a", b"x" * 5_000_000), ("garden/a", b""), ("garden/a", b"after")])
    large, empty, after = take_all(source, 3)
    assert (len(large.payload), large.size) == (PAYLOAD_LIMIT_BYTES, 5_000_000)
    assert (empty.payload, empty.size) == (b"", 0)
    assert after.payload == b"after"


def test_a_kept_message_is_marked_and_does_not_come_at_every_start(mosquitto, opened):
    publish(mosquitto.port, [("garden/a", b"kept")], retain=True)
    source = source_at(mosquitto.port)
    (kept,) = take_all(source, 1)
    assert kept.kept
    source.close()
    again = listening(opened(source_at(mosquitto.port)))
    publish(mosquitto.port, [("garden/a", b"live")])
    assert [(one.payload, one.kept) for one in take_all(again, 1)] == [(b"live", False)]


def test_a_broker_of_mqtt_3_1_1_keeps_the_session_too(opened):
    with EmbeddedBroker(0) as broker:
        listening(source_at(broker.port)).close()
        publish(broker.port, [("garden/a", b"%d" % number) for number in range(200)], protocol=paho.MQTTv311)
        source = opened(source_at(broker.port))
        came = take_all(source, 200)
        assert {one.payload for one in came} == {b"%d" % number for number in range(200)}
        assert source.trouble is None


def test_a_listener_that_is_no_broker_is_told(opened):
    with socket.create_server(("127.0.0.1", 0)) as listener:
        source = opened(source_at(listener.getsockname()[1]))
        assert source.take(1.2) == []
        assert "has not answered yet" in source.trouble


def test_a_broker_that_hangs_up_with_no_answer_is_tried_in_both_versions_and_told(opened):
    with OldBroker(answers=False) as broker:
        told = trouble_of(opened(source_at(broker.port)), "without an answer")
        assert broker.levels == [5, 4]
        assert "COOLDEPTH_MQTT_PASSWORD" in told


def test_an_embedded_broker_says_when_its_port_is_taken():
    with EmbeddedBroker(0) as broker, pytest.raises(SourceError, match=f"port {broker.port} .* another program listens"):
        EmbeddedBroker(broker.port).__enter__()


def test_a_source_that_is_closed_takes_nothing_and_closes_twice():
    source = source_at(free_port())
    source.close()
    source.close()
    assert source.take(0.1) == ()


PROBE = Probe("terrace-t12", "terrace", Quantity.SOIL_TEMPERATURE, "urn:dev:ow:28a1b2c3d4e5f607", 0.12)


def test_a_crash_between_commit_and_acknowledgement_stores_each_timeless_reading_once(mosquitto, opened):
    store = FakeReadingStore()
    listening(source_at(mosquitto.port)).close()
    record = b'[{"n":"%s","u":"Cel","v":18}]' % PROBE.address.encode()
    publish(mosquitto.port, [("garden/a", record)] * 40)

    crashing = source_at(mosquitto.port)
    intake = Intake([crashing], store, [PROBE], SystemClock())
    crashing.acknowledge = lambda *_: None  # it never comes to that
    wait_until(lambda: intake.step(0.1) is not None and intake.counts.messages >= 40)
    crashing._connection._client.socket().close()
    first = dict(store.readings)
    assert len(first) == 40

    again = Intake([opened(source_at(mosquitto.port))], store, [PROBE], SystemClock())
    wait_until(lambda: again.step(0.1) is not None and again.counts.messages >= 40)
    assert store.readings.keys() == first.keys()


def test_a_broker_that_restarts_in_the_middle_of_a_stream_loses_nothing(mosquitto, opened):
    source = listening(opened(source_at(mosquitto.port)))
    store = FakeReadingStore()
    intake = Intake([source], store, [PROBE], SystemClock())
    start_s = int(time.time()) - 10_000
    records = [b'[{"n":"%s","u":"Cel","t":%d,"v":18}]' % (PROBE.address.encode(), start_s + number) for number in range(3000)]
    publishing = threading.Thread(target=publish, args=(mosquitto.port, [("garden/a", record) for record in records]))
    publishing.start()
    wait_until(lambda: intake.step(0.05) is not None and len(store.readings) > 200)
    mosquitto.stop()
    assert len(store.readings) < 3000, "the broker stopped too late to prove anything"
    intake.step(0.05)
    mosquitto.start()
    wait_until(lambda: intake.step(0.05) is not None and len(store.readings) >= 3000, 20)
    publishing.join()


def test_readings_go_from_the_broker_through_the_intake_and_are_thanked_for(mosquitto, opened):
    source = listening(opened(source_at(mosquitto.port)))
    store = FakeReadingStore()
    intake = Intake([source], store, [PROBE], SystemClock())
    records = [b'[{"n":"%s","u":"Cel","v":%d}]' % (PROBE.address.encode(), number % 9 + 10) for number in range(100)]
    publish(mosquitto.port, [("garden/a", record) for record in [*records, b"\x00", b'[{"n":']])
    wait_until(lambda: intake.step(0.1) is not None and intake.counts.messages == 102)
    assert len(store.readings) == 100, "a burst with no times of its own must not fall together"
    assert len(store.refusals) == 2
    time.sleep(0.2)  # the broker reads the acknowledgements
    source.close()
    again = listening(opened(source_at(mosquitto.port)))
    publish(mosquitto.port, [("garden/a", b"next")])
    assert [one.payload for one in take_all(again, 1)] == [b"next"]
