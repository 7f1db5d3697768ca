"""Every message ends as readings, unclaimed or refused; it is committed first and acknowledged then."""

from collections import Counter
from itertools import pairwise

import cbor2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.checks import FUTURE_AFTER_MS
from collector.decode import senml
from collector.decode.lines import check_byte
from collector.errors import DecodeError, StoreBusyError, StoreError
from collector.intake import END_MS, Intake
from collector.intake_round import REASONS_TOLD, Why
from collector.model import PAYLOAD_LIMIT_BYTES, Envelope, Flag, Probe, Reading
from collector.units import Quantity
from tests.fakes import NOW_MS, FakeClock, FakeReadingStore, FakeSource

PROBES = (
    Probe("t12", "terrace", Quantity.SOIL_TEMPERATURE, "stake:t12", 0.12),
    Probe("m15", "terrace", Quantity.SOIL_MOISTURE, "stake:m15", 0.15),
    Probe("rh", "terrace", Quantity.RELATIVE_HUMIDITY, "stake:rh"),
    Probe("battery", "terrace", Quantity.BATTERY, "stake:battery"),
)


class Line:
    """One source, a store and the intake between them."""

    def __init__(self, latest=None):
        self.clock = FakeClock()
        self.store = FakeReadingStore(latest)
        self.source = FakeSource(self.clock)
        self.intake = Intake([self.source], self.store, PROBES, self.clock)

    def take_in(self, *payloads, **how):
        self.source.say(*payloads, **how)
        return self.intake.step(0.1)


@pytest.fixture
def line():
    return Line()


def test_a_reading_is_claimed_by_its_address_and_put_into_the_unit_inside(line):
    line.take_in(
        b'[{"bn":"stake:","bt":1776067100,"n":"t12","u":"K","v":291.15},{"n":"m15","v":0.31},'
        b'{"n":"rh","u":"%RH","v":84},{"n":"battery","u":"mV","v":3600}]'
    )
    found = {one.probe_id: (one.value, one.raw, one.measured_ms, one.received_ms) for one in line.store.readings.values()}
    assert found == {
        "t12": (pytest.approx(18.0), 291.15, 1776067100000, NOW_MS),
        "m15": (0.31, 0.31, 1776067100000, NOW_MS),
        "rh": (84, 84, 1776067100000, NOW_MS),
        "battery": (3.6, 3600, 1776067100000, NOW_MS),
    }


def test_a_pack_in_cbor_is_taken_in_too_even_where_it_ends_like_a_check_byte(line):
    payload = cbor2.dumps([{0: "stake:t12", 1: "Cel", 2: 18.25, 6: 1776067100, 3000: "*41"}])
    line.take_in(payload)
    assert payload.endswith(b"*41")
    assert [(one.probe_id, one.value) for one in line.store.readings.values()] == [("t12", 18.25)]


@pytest.mark.parametrize("unit", ['"/"', '"%"'])
def test_a_ratio_is_a_ratio_with_either_of_its_units(line, unit):
    # RFC 8428, section 12.1: "%" is the same as "/", 0.31 and not 31
    line.take_in(b'[{"n":"stake:m15","u":%s,"v":0.31}]' % unit.encode())
    assert [one.value for one in line.store.readings.values()] == [0.31]


@pytest.mark.parametrize(
    ("record", "why", "told"),
    [
        (b'{"n":"stake:t12","u":"degF","v":64}', Why.UNIT, "unit 'degF'; probe t12 measures soil_temperature, which wants 'Cel'"),
        (b'{"n":"stake:t12","v":18}', Why.UNIT, "no unit; probe t12 measures soil_temperature, which wants 'Cel' or 'K'"),
        (
            b'{"n":"stake:t12","u":"Cel","v":1e6}',
            Why.IMPOSSIBLE,
            "1e+06 Cel is no soil_temperature (probe t12); want -273.15 to 1000 Cel",
        ),
        (b'{"n":"stake:t12","u":"K","v":-1}', Why.IMPOSSIBLE, "-1 K is no soil_temperature"),
        (b'{"n":"stake:m15","u":"/","v":31}', Why.IMPOSSIBLE, "31 / is no soil_moisture"),
        (b'{"n":"stake:t12","vs":"warm"}', Why.NO_READING, "record 2 of 3: its value 'vs' is text"),
    ],
)
def test_a_record_that_cannot_be_is_refused_with_its_message_and_the_others_are_stored(line, record, why, told):
    payload = b'[{"n":"stake:t12","u":"Cel","t":1776067100,"v":18},%s,{"n":"stake:m15","v":0.3}]' % record
    line.take_in(payload)
    assert {one.probe_id for one in line.store.readings.values()} == {"t12", "m15"}
    (refusal,) = line.store.batches[0].refusals
    assert (refusal.payload, refusal.size, refusal.source) == (payload, len(payload), "mqtt garden/stake")
    assert Counter({why: 1}) == line.intake.counts.refused
    assert told in refusal.reason


def test_the_implausible_is_flagged_and_not_refused(line):
    line.take_in(b'[{"n":"stake:t12","u":"Cel","v":-127}]')
    (reading,) = line.store.readings.values()
    assert reading.flags == Flag.OUT_OF_RANGE | Flag.DISCONNECTED
    assert line.store.refusals == []


def test_an_address_of_no_probe_is_unclaimed(line):
    line.take_in(b'[{"n":"stake:new","u":"Cel","v":18}]')
    (one,) = line.store.batches[0].unclaimed
    assert (one.address, one.unit, one.value, one.measured_ms, one.source) == (
        "stake:new",
        "Cel",
        18,
        NOW_MS,
        "mqtt garden/stake",
    )


@pytest.mark.parametrize(
    "payload", [b"", b"\x00\x00", b'[{"n":"stake:t12"', b"hello", b'[{"n":"stake:t12","u":"Cel","v":18}]*00']
)
def test_what_cannot_be_decoded_is_kept_as_refused(line, payload):
    assert line.take_in(payload, b'[{"n":"stake:t12","u":"Cel","v":18}]') == 2
    (refusal,) = line.store.batches[0].refusals
    assert (refusal.payload, refusal.received_ms) == (payload, NOW_MS)
    assert len(line.store.readings) == 1
    assert len(line.source.acknowledged) == 2, "poison must not block the line"


def test_a_line_is_read_with_a_right_check_byte_and_refused_with_a_wrong_one(line):
    record = b'[{"n":"stake:t12","u":"Cel","v":18}]'
    line.take_in(record + b"*%02X" % check_byte(record), record + b"*00")
    assert [one.value for one in line.store.readings.values()] == [18]
    assert line.store.refusals == [
        f"check byte 00 does not fit the line, which has {check_byte(record):02X}: it was disturbed on its way"
    ]


def test_a_payload_over_the_limit_is_refused_by_its_head_and_true_length(line):
    head = b"x" * PAYLOAD_LIMIT_BYTES
    line.source.waiting.append([Envelope("mqtt garden/a", head, NOW_MS, 5_000_000)])
    line.intake.step(0)
    (refusal,) = line.store.batches[0].refusals
    assert (refusal.payload, refusal.size) == (head, 5_000_000)
    assert "5000000 bytes; want at most 65536" in refusal.reason


def test_thousands_of_bad_records_do_not_keep_their_message_thousands_of_times(line):
    line.take_in(b"[" + b",".join([b'{"n":"stake:t12","vs":"x"}'] * 2000) + b"]")
    (told,) = line.store.refusals
    assert told.count("is text") == REASONS_TOLD
    assert told.endswith("; and 1990 more records")
    assert line.intake.counts.refused[Why.NO_READING] == 2000


def test_a_message_that_the_broker_kept_counts_only_with_a_time_of_its_own(line):
    payload = b'[{"n":"stake:t12","u":"Cel","v":18},{"n":"stake:t12","u":"Cel","t":1776067100,"v":19}]'
    line.source.waiting.append([Envelope("mqtt garden/a", payload, NOW_MS, len(payload), kept=True)])
    line.intake.step(0)
    assert [one.value for one in line.store.readings.values()] == [19]
    assert "no time tells since when" in line.store.refusals[0]


# ---------------------------------------------------------------- commit, then acknowledge


def test_nothing_is_acknowledged_before_it_is_committed(line):
    seen = []
    commit, acknowledge = line.store.commit, line.source.acknowledge
    line.store.commit = lambda batch: (seen.append("commit"), commit(batch))
    line.source.acknowledge = lambda envelopes: (seen.append("acknowledge"), acknowledge(envelopes))
    line.take_in(b'[{"n":"stake:t12","u":"Cel","v":18}]')
    assert seen == ["commit", "acknowledge"]


def test_messages_are_acknowledged_in_the_order_they_were_taken_in_one_commit(line):
    line.take_in(*[b'[{"n":"stake:t12","u":"Cel","v":%d}]' % number for number in range(20)])
    assert [one.delivery.message_id for one in line.source.acknowledged] == list(range(1, 21))
    assert len(line.store.batches) == 1


def test_a_busy_store_is_told_and_tried_again_and_nothing_is_taken_meanwhile(line):
    line.store.fail = [StoreBusyError("disk full"), StoreBusyError("disk full")]
    line.source.say(b'[{"n":"stake:t12","u":"Cel","v":18}]')
    line.source.say(b'[{"n":"stake:t12","u":"Cel","v":19}]')
    assert line.intake.step(0.1) == 0
    assert line.intake.trouble == "1 messages wait to be stored: disk full"
    assert line.source.acknowledged == []
    takes = line.source.takes
    settled_at_s = None
    while settled_at_s is None:
        settled_at_s = line.clock.at_s if line.intake.step(0.1) else None
        assert line.clock.at_s < 60
    assert line.source.takes == takes, "the messages wait at the broker"
    assert settled_at_s == pytest.approx(1 + 2, abs=0.3), "pauses of one and two seconds"
    assert line.intake.trouble is None
    assert len(line.source.acknowledged) == 1
    assert line.intake.step(0.1) == 1
    assert [one.value for one in line.store.readings.values()] == [18, 19]


def test_the_pause_between_tries_grows_to_a_minute_and_no_further(line):
    line.store.fail = [StoreBusyError("locked")] * 12
    line.source.say(b'[{"n":"stake:t12","u":"Cel","v":18}]')
    tries_s = []
    left = len(line.store.fail)
    while left:
        line.intake.step(0.5)
        if len(line.store.fail) < left:
            left = len(line.store.fail)
            tries_s.append(line.clock.at_s)
    pauses = [round(later - earlier) for earlier, later in pairwise(tries_s)]
    assert pauses == [1, 2, 4, 8, 16, 32, 60, 60, 60, 60, 60]


def test_a_store_too_busy_to_answer_keeps_the_batch_as_it_was(line):
    line.take_in(b'[{"n":"stake:t12","u":"Cel","v":18}]')
    first_arrival = line.store.first_arrival
    answers = [StoreBusyError("locked")]

    def busy_once(*question):
        if answers:
            raise answers.pop()
        return first_arrival(*question)

    line.store.first_arrival = busy_once
    line.clock.pass_s(60)
    assert line.take_in(b'[{"n":"stake:t12","u":"Cel","v":18}]', again=True) == 0
    assert "locked" in line.intake.trouble
    line.clock.pass_s(2)
    assert line.intake.step(0.1) == 1
    assert len(line.store.readings) == 1


def test_a_store_that_fails_for_good_ends_it_and_nothing_is_acknowledged(line):
    line.store.fail = [StoreError("no store at all")]
    line.source.say(b'[{"n":"stake:t12","u":"Cel","v":18}]')
    with pytest.raises(StoreError, match="no store at all"):
        line.intake.step(0.1)
    assert line.source.acknowledged == []


def test_it_waits_only_where_nothing_has_come_yet():
    clock = FakeClock()
    full, empty = FakeSource(clock), FakeSource(clock)
    intake = Intake([full, empty], FakeReadingStore(), PROBES, clock)
    full.say(b"[]")
    assert intake.step(1.0) == 1
    assert clock.at_s == 0
    assert intake.step(1.0) == 0
    assert clock.at_s == 1.0


def test_with_no_source_it_only_waits():
    clock = FakeClock()
    assert Intake([], FakeReadingStore(), PROBES, clock).step(0.5) == 0
    assert clock.at_s == 0.5


# ---------------------------------------------------------------- messages with no time of their own


TIMELESS = b'[{"n":"stake:t12","u":"Cel","v":18}]'


def times_ms(line):
    return sorted(one.measured_ms for one in line.store.readings.values())


def test_a_burst_with_no_times_does_not_fall_together(line):
    line.take_in(*[TIMELESS] * 50)
    line.take_in(*[TIMELESS] * 50)
    assert times_ms(line) == [NOW_MS + number for number in range(100)]


def test_a_timeless_message_sent_again_is_the_reading_that_it_was(line):
    line.take_in(TIMELESS)
    line.clock.pass_s(3600)
    line.take_in(TIMELESS, again=True)
    assert times_ms(line) == [NOW_MS]


def test_a_refused_message_sent_again_is_not_refused_twice(line):
    mixed = b'[{"n":"stake:t12","u":"Cel","v":18},{"n":"stake:t12","v":18}]'
    line.take_in(b"nonsense", mixed)
    line.take_in(b"nonsense", mixed, again=True)
    assert len(line.store.refusals) == 2
    assert len(times_ms(line)) == 1
    assert (line.intake.counts.messages, line.intake.counts.again) == (4, 2), "all that came is counted"


def test_a_timeless_message_sent_again_that_was_never_stored_comes_now(line):
    line.take_in(TIMELESS, again=True)
    line.clock.pass_s(3600)
    line.take_in(TIMELESS.replace(b"18", b"19"), again=True)
    assert times_ms(line) == [NOW_MS, NOW_MS + 3_600_000]


def test_the_same_number_and_text_not_sent_again_is_another_reading(line):
    line.take_in(TIMELESS)
    line.clock.pass_s(3600)
    line.take_in(TIMELESS)
    assert len(times_ms(line)) == 2


def test_relative_times_count_from_arrival(line):
    line.take_in(b'[{"bn":"stake:t12","bu":"Cel","t":-60,"v":18},{"v":18.5}]')
    assert times_ms(line) == [NOW_MS - 60_000, NOW_MS]


def test_arrivals_are_recorded_only_where_they_will_be_asked_for(line):
    line.take_in(TIMELESS, b'[{"n":"stake:t12","u":"Cel","t":1776067100,"v":18}]', b"nonsense")
    assert [one.message_id for one in line.store.batches[0].arrivals] == [1, 3]


def test_a_burst_goes_on_after_a_restart_where_it_ended():
    last = Reading("t12", NOW_MS + 7, 18.0, 18.0, NOW_MS + 7)
    line = Line({"t12": last})
    line.take_in(TIMELESS)
    assert times_ms(line) == [NOW_MS + 8]


def test_a_clock_that_was_set_back_does_not_drag_arrivals_along():
    last = Reading("t12", NOW_MS, 18.0, 18.0, NOW_MS + 365 * 86_400_000)
    line = Line({"t12": last})
    line.take_in(TIMELESS)
    assert times_ms(line) == [NOW_MS]


def test_more_than_300_000_waiting_messages_with_no_time_stay_apart():
    last = Reading("t12", NOW_MS + 999_999, 18.0, 18.0, NOW_MS + 999_999)  # a million came in this very second
    line = Line({"t12": last})
    line.take_in(TIMELESS)
    assert times_ms(line) == [NOW_MS + 1_000_000]


def test_numbers_of_a_new_session_are_no_longer_taken_for_those_of_the_old_one(line):
    line.take_in(TIMELESS)
    line.store.forget_arrivals()
    line.clock.pass_s(3600)
    line.take_in(TIMELESS, again=True)
    assert len(times_ms(line)) == 2


def test_all_numbered_messages_are_counted_in_the_commit(line):
    line.take_in(TIMELESS, b'[{"n":"stake:t12","u":"Cel","t":1776067100,"v":18}]', b"nonsense")
    assert line.store.batches[0].numbered == 3


# ---------------------------------------------------------------- clocks


def at(*moments_s):
    return [b'[{"n":"stake:t12","u":"Cel","t":%d,"v":%d}]' % (moment_s, 10 + number) for number, moment_s in enumerate(moments_s)]


def flags(line):
    return [one.flags for batch in line.store.batches for one in (*batch.readings, *batch.beside)]


@pytest.mark.parametrize("moment_s", [1_000_000_000, 1_640_995_200, 4_070_908_800])  # 2001, 2022, 2099
def test_a_time_that_can_hardly_be_is_flagged_and_the_reading_replaces_nothing(line, moment_s):
    line.take_in(*at(moment_s, moment_s))
    (batch,) = line.store.batches
    assert batch.readings == ()
    assert [one.value for one in batch.beside] == [10, 11]
    assert all(one.flags & (Flag.FUTURE | Flag.LONG_AGO) for one in batch.beside)
    assert [one.message_id for one in batch.arrivals] == [1, 2], "sent again, it is the one that it was"


def test_a_clock_that_falls_back_a_year_is_flagged(line):
    now_s = NOW_MS // 1000
    line.take_in(*at(now_s - 60, now_s - 365 * 86_400, now_s))
    assert flags(line) == [Flag.NONE, Flag.NONE, Flag.LONG_AGO]  # those beside come last


def test_readings_kept_back_for_weeks_by_their_board_are_not_flagged(line):
    now_s = NOW_MS // 1000
    line.take_in(*at(now_s, now_s - 60 * 86_400, now_s - 59 * 86_400))
    assert flags(line) == [Flag.NONE] * 3


def test_the_hour_that_daylight_saving_repeats_is_two_hours():
    # Europe/Lisbon, 2026-10-25: 01:30 comes twice, at 00:30Z and 01:30Z. Inside there is only UTC.
    line = Line()
    line.clock.at_ms = 1_792_893_600_000  # 2026-10-25T02:00:00Z
    line.take_in(*at(1_792_888_200, 1_792_891_800))
    assert times_ms(line) == [1_792_888_200_000, 1_792_891_800_000]
    assert flags(line) == [Flag.NONE] * 2


def test_what_came_while_our_clock_ran_ahead_is_marked_when_it_is_set_and_checks_go_on():
    line = Line()
    true_ms = line.clock.at_ms
    line.clock.at_ms = 4_070_908_800_000  # 2099
    line.take_in(TIMELESS)
    line.clock.at_ms = true_ms
    line.store._latest = {"t12": Reading("t12", true_ms - 1000, 18.0, 18.0, true_ms - 1000)}  # what the mark leaves
    line.take_in(b'[{"n":"stake:t12","u":"Cel","v":45}]')
    assert line.store.marks == [("t12", true_ms + FUTURE_AFTER_MS + 1, END_MS, Flag.FUTURE, True)]
    (late,) = line.store.batches[-1].beside
    assert (late.measured_ms, late.flags) == (true_ms, Flag.JUMP)


def test_a_store_whose_newest_reading_is_of_the_future_is_put_right_at_the_start():
    line = Line({"t12": Reading("t12", NOW_MS + 86_400_000, 18.0, 18.0, NOW_MS + 86_400_000)})
    line.take_in(TIMELESS)
    assert [mark[0] for mark in line.store.marks] == ["t12"]


def test_what_seemed_to_be_of_the_future_is_believed_when_our_clock_was_behind_and_is_set():
    line = Line()
    true_ms = line.clock.at_ms
    line.clock.at_ms = true_ms - 3 * 3_600_000
    line.take_in(*at(true_ms // 1000))
    assert flags(line) == [Flag.FUTURE]
    line.clock.at_ms = true_ms
    line.take_in(*at(true_ms // 1000))
    ((probe, from_ms, to_ms, flag, on),) = line.store.marks
    assert (probe, flag, on) == ("t12", Flag.FUTURE, False)
    assert from_ms <= true_ms < to_ms
    assert line.store.batches[-1].readings[0].flags == Flag.NONE


def test_a_store_too_busy_to_be_put_right_is_asked_again(line):
    line.take_in(TIMELESS)
    mark, busy = line.store.mark, [StoreBusyError("locked")]

    def busy_once(*what, on):
        if busy:
            raise busy.pop()
        mark(*what, on=on)

    line.store.mark = busy_once
    line.clock.at_ms -= 86_400_000
    assert line.take_in(TIMELESS) == 0
    line.clock.pass_s(2)
    assert line.intake.step(0.1) == 1
    assert len(line.store.marks) == 1


# ---------------------------------------------------------------- the end


def wire_line():
    line = Line()
    line.source.can_acknowledge = False
    return line


def test_at_the_end_all_that_a_wire_said_is_stored():
    line = wire_line()
    for _ in range(3):
        line.source.say(TIMELESS)
    assert line.intake.finish(10)
    assert len(times_ms(line)) == 3


def test_at_the_end_a_busy_store_is_waited_for_so_long_and_no_longer():
    line = wire_line()
    line.source.say(TIMELESS)
    line.store.fail = [StoreBusyError("locked")] * 8
    assert line.intake.finish(20)
    assert len(times_ms(line)) == 1
    line.source.say(TIMELESS)
    line.store.fail = [StoreBusyError("locked")] * 100
    before_s = line.clock.at_s
    assert not line.intake.finish(10)
    assert line.clock.at_s - before_s == pytest.approx(10, abs=1.1)


def test_at_the_end_a_broker_is_asked_for_nothing_more(line):
    line.source.say(TIMELESS)
    assert line.intake.finish(10)
    assert line.source.takes == 0


# ---------------------------------------------------------------- nothing vanishes

RECORDS = st.sampled_from(
    [
        b'{"n":"stake:t12","u":"Cel","v":18}',
        b'{"n":"stake:t12","u":"Cel","v":85}',
        b'{"n":"stake:t12","u":"degF","v":64}',
        b'{"n":"stake:t12","u":"Cel","v":1e7}',
        b'{"n":"stake:m15","v":0.3}',
        b'{"n":"stake:m15","vs":"wet"}',
        b'{"n":"stake:new","u":"Cel","v":18}',
        b'{"n":"not a name","v":18}',
    ]
)
PACKS = st.lists(RECORDS, min_size=1, max_size=30).map(lambda records: b"[" + b",".join(records) + b"]")


@given(st.lists(PACKS | st.binary(max_size=20), max_size=12))
def test_every_record_of_every_message_is_counted_once_and_every_message_acknowledged(payloads):
    line = Line()
    line.take_in(*payloads)
    expected = 0
    for payload in payloads:
        try:
            expected += len(senml.resolve(payload))
        except DecodeError:
            expected += 1
    counts = line.intake.counts
    batch = line.store.batches[0] if line.store.batches else None
    assert counts.messages == len(payloads) == len(line.source.acknowledged)
    assert counts.readings + counts.unclaimed + counts.refused.total() == expected
    if batch:
        assert (counts.readings, counts.unclaimed) == (len(batch.readings) + len(batch.beside), len(batch.unclaimed))
        assert len(batch.refusals) <= counts.refused.total()
        assert bool(batch.refusals) == bool(counts.refused.total())
