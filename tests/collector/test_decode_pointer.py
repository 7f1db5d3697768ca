"""Any JSON, read by pointers: numbers, times and addresses, and whose messages they are."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from collector.decode.pointer import matches, read, settings_for
from collector.decode.reader import Reader
from collector.errors import DecodeError
from collector.intake import Intake
from collector.model import Delivery, Envelope, Measurement, Probe
from collector.settings import JsonField, JsonSettings
from collector.units import Quantity
from tests.fakes import NOW_MS, FakeClock, FakeReadingStore, FakeSource

FIELDS = (JsonField("/soil/0/t", "Cel"), JsonField("/soil/0/vwc", None, "/water"))
BENCH = JsonSettings(FIELDS, topic="bench/+")


def payload(**more):
    return json.dumps({"soil": [{"t": 14.25, "vwc": "0.21"}], **more}).encode()


def test_fields_are_told_by_topic_and_pointer_or_as_the_garden_file_says():
    assert read(payload(), BENCH, "bench/7") == [
        Measurement("bench/7/soil/0/t", "Cel", 14.25, None),
        Measurement("bench/7/water", None, 0.21, None),
    ]
    named = JsonSettings(FIELDS, topic="bench/+", address="stake")
    assert [one.address for one in read(payload(), named, "bench/7")] == ["stake/soil/0/t", "stake/water"]


@pytest.mark.parametrize(
    ("told", "how", "measured_ms"),
    [
        (1_776_067_200, "s", 1_776_067_200_000),
        (1_776_067_200.25, "s", 1_776_067_200_250),
        ("1776067200", "s", 1_776_067_200_000),
        (1_776_067_200_123, "ms", 1_776_067_200_123),
        ("2026-04-13T10:00:00+02:00", "iso", 1_776_067_200_000),
        ("2026-04-13T08:00:00Z", "iso", 1_776_067_200_000),
    ],
)
def test_a_time_is_read_as_it_is_told(told, how, measured_ms):
    settings = JsonSettings(FIELDS, topic="x", time="/ts", time_in=how)
    assert {one.measured_ms for one in read(payload(ts=told), settings, "x")} == {measured_ms}


@pytest.mark.parametrize(
    ("told", "how"),
    [("soon", "s"), (None, "s"), (True, "s"), (-5, "s"), (1e300, "ms"), (17, "iso"), ("2026-04-13T08:00:00", "iso"), ([], "s")],
)
def test_a_time_that_is_none_refuses_the_message(told, how):
    settings = JsonSettings(FIELDS, topic="x", time="/ts", time_in=how)
    with pytest.raises(DecodeError, match=r"the time at /ts is .*; want"):
        read(payload(ts=told), settings, "x")


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (True, "is no number"),
        (None, "is no number"),
        ("wet", "is no number"),
        ({}, "is no number"),
        ("1e999", "no number that a reading"),
    ],
)
def test_a_field_that_is_no_number_is_refused_alone(value, told):
    odd, sound = read(json.dumps({"soil": [{"t": value, "vwc": 0.2}]}).encode(), BENCH, "bench/7")
    assert told in str(odd)
    assert sound.value == 0.2


def test_a_field_that_is_missing_says_what_is_there():
    missing, _ = read(b'{"soil":[{"temp":1,"vwc":0.2}]}', BENCH, "bench/7")
    assert str(missing) == "nothing at /soil/0/t: at /soil/0 there is temp, vwc"


@pytest.mark.parametrize("body", [b"", b"{", b"\xff", b'{"a":NaN}', b'{"a":Infinity}', b"[" * 100_000])
def test_what_is_no_json_is_refused_whole(body):
    with pytest.raises(DecodeError, match="no JSON"):
        read(body, BENCH, "bench/7")


@given(st.binary(max_size=80))
def test_no_bytes_at_all_do_more_than_be_refused(body):
    try:
        for one in read(body, BENCH, "bench/7"):
            assert isinstance(one, Measurement | DecodeError)
    except DecodeError:
        pass


LEVEL = st.sampled_from(["a", "b", "+", "#", "", "$SYS"])


@given(st.lists(LEVEL, min_size=1, max_size=4), st.lists(st.sampled_from(["a", "b", "", "$SYS"]), min_size=1, max_size=4))
def test_topics_match_as_pahos_own_judge_says(wanted, given_levels):
    if "#" in wanted[:-1]:
        return  # no filter: MQTT 5, section 4.7.1.2
    topic_filter, topic = "/".join(wanted), "/".join(given_levels)
    if topic_filter and topic:
        assert matches(topic_filter, topic) == topic_matches_sub(topic_filter, topic)


def test_whose_messages_are_read_so():
    wire = JsonSettings(FIELDS, port="/dev/ttyUSB1", address="cable")
    assert settings_for([BENCH, wire], "mqtt bench/7") == (BENCH, "bench/7")
    assert settings_for([BENCH, wire], "serial /dev/ttyUSB1") == (wire, "/dev/ttyUSB1")
    assert settings_for([BENCH, wire], "mqtt garden/7") is None


def test_through_the_intake_it_is_a_reading_like_any_other_and_senml_beside_it_too():
    store, clock = FakeReadingStore(), FakeClock()
    source = FakeSource(clock)
    probe = Probe("t", "bed", Quantity.SOIL_TEMPERATURE, "bench/7/soil/0/t", 0.1)
    intake = Intake([source], store, [probe], clock, reader=Reader([BENCH]))
    source.waiting.append([Envelope("mqtt bench/7", payload(), NOW_MS, len(payload()), Delivery(1, False))])
    source.say(b'[{"n":"bench/7/soil/0/t","u":"Cel","v":15.0,"t":1776067100}]')
    intake.step(0), intake.step(0)
    assert sorted(one.value for one in store.readings.values()) == [14.25, 15.0]
    (unclaimed,) = [one for batch in store.batches for one in batch.unclaimed]
    assert (unclaimed.address, unclaimed.value) == ("bench/7/water", 0.21)
    source.waiting.append([Envelope("mqtt bench/7", b"{", NOW_MS, 1, Delivery(3, False))])
    intake.step(0)
    assert "the garden file says that bench/7 speaks it" in store.refusals[0]
