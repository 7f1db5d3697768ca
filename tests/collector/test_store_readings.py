"""What every series store must do, tried with each: once each, the later value wins, and what is read is what was written."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from collector.errors import StoreError
from collector.model import Arrival, Batch, Flag, Refusal, Unclaimed
from collector.stores import aside
from collector.stores.sqlite import Counts
from tests.collector.made_readings import MINUTE_MS, NOON_MS, everything, reading


def test_what_was_committed_is_read_back_exactly(store, readings):
    told = (
        reading(minute=0, value=12.0625),
        reading(minute=1, value=0.1 + 0.2, raw=300.45, flags=Flag.STUCK | Flag.JUMP),
        reading(minute=2, value=-127.0, flags=Flag.DISCONNECTED, received_ms=NOON_MS + 86_400_000),
        reading(minute=3, value=5e-324, received_ms=NOON_MS),
    )
    store.commit(Batch(readings=told))
    assert everything(readings, "t12") == list(told)
    assert [one.received_ms for one in everything(readings, "t12")] == [one.received_ms for one in told]


def test_a_reading_written_twice_is_kept_once_and_the_later_value_wins(store, readings):
    store.commit(Batch(readings=(reading(value=1.0), reading(value=2.0))))
    assert everything(readings, "t12") == [reading(value=2.0)]
    store.commit(Batch(readings=(reading(value=3.0, raw=4.0, flags=Flag.STUCK),)))
    assert everything(readings, "t12") == [reading(value=3.0, raw=4.0, flags=Flag.STUCK)]


def test_a_number_sent_again_keeps_the_flags_of_its_first_coming(store, readings):
    store.commit(Batch(readings=(reading(value=3.0, raw=3.0, flags=Flag.JUMP),)))
    store.commit(Batch(readings=(reading(value=3.0, raw=3.0, flags=Flag.STUCK),)))
    assert everything(readings, "t12") == [reading(value=3.0, raw=3.0, flags=Flag.JUMP | Flag.STUCK)]
    store.commit(Batch(readings=(reading(value=5.0, raw=5.0),)))
    assert everything(readings, "t12") == [reading(value=5.0, raw=5.0)]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.lists(
            st.tuples(st.sampled_from(["a", "b", "c"]), st.integers(0, 5), st.floats(allow_nan=False, allow_infinity=False)),
            max_size=8,
        ),
        max_size=5,
    )
)
def test_any_order_of_any_batches_ends_as_a_dictionary_would(stores, batches):
    # The outside judge is Python's dict: the last value of a key stands.
    store, readings = stores.open()
    expected = {}
    for batch in batches:
        told = [reading(probe_id, minute, value) for probe_id, minute, value in batch]
        store.commit(Batch(readings=tuple(told)))
        expected.update({(one.probe_id, one.measured_ms): one.value for one in told})
    found = everything(readings, "a", "b", "c")
    assert {(one.probe_id, one.measured_ms): one.value for one in found} == expected
    assert [(one.measured_ms, one.probe_id) for one in found] == sorted((time_ms, probe_id) for probe_id, time_ms in expected)


def test_a_large_batch_with_the_same_keys_again_and_again_ends_as_a_dictionary_would(store, readings):
    told = [reading(f"p{n % 3}", (n * 7) % 40, float(n)) for n in range(500)]
    store.commit(Batch(readings=tuple(told)))
    expected = {(one.probe_id, one.measured_ms): one.value for one in told}
    assert {(one.probe_id, one.measured_ms): one.value for one in everything(readings, "p0", "p1", "p2")} == expected


def test_a_series_is_half_open_sorted_and_of_the_promised_types(store, readings):
    store.commit(Batch(readings=tuple(reading(minute=minute, value=minute / 16) for minute in (3, 1, 0, 2))))
    series = readings.series("t12", NOON_MS + MINUTE_MS, NOON_MS + 3 * MINUTE_MS)
    assert series.time_ms.tolist() == [NOON_MS + MINUTE_MS, NOON_MS + 2 * MINUTE_MS]
    assert series.value.tolist() == [1 / 16, 2 / 16]
    assert (series.time_ms.dtype, series.value.dtype, series.flags.dtype) == (np.int64, np.float64, np.int64)
    assert all(column.flags["C_CONTIGUOUS"] for column in (series.time_ms, series.value, series.flags))


def test_a_reading_of_the_future_is_the_latest_only_where_there_is_no_other(store, readings):
    ahead = reading("a", 5_000_000, flags=Flag.FUTURE)
    store.commit(Batch(readings=(reading("a", 1), ahead, reading("b", 5_000_000, flags=Flag.FUTURE))))
    assert readings.latest()["a"] == reading("a", 1)
    assert readings.latest()["b"] == reading("b", 5_000_000, flags=Flag.FUTURE)
    assert ahead in everything(readings, "a")


def test_a_mark_is_put_on_the_readings_of_a_span_and_taken_off_again_and_touches_nothing_else(store, readings):
    jumped = reading(minute=1, flags=Flag.JUMP)
    store.commit(Batch(readings=(reading(minute=0), jumped, reading(minute=2), reading("other", minute=1))))
    store.mark("t12", NOON_MS + MINUTE_MS, NOON_MS + 2 * MINUTE_MS, Flag.DUG_UP, on=True)
    assert readings.series("t12", 0, 2**62).flags.tolist() == [0, int(Flag.JUMP | Flag.DUG_UP), 0]
    assert readings.series("other", 0, 2**62).flags.tolist() == [0]
    store.commit(Batch(readings=(jumped,)))  # sent again, it is still the reading of a stake in the air
    assert readings.series("t12", 0, 2**62).flags.tolist() == [0, int(Flag.JUMP | Flag.DUG_UP), 0]
    store.mark("t12", 0, 2**62, Flag.DUG_UP, on=False)
    assert readings.series("t12", 0, 2**62).flags.tolist() == [0, int(Flag.JUMP), 0]
    store.mark("nobody", 0, 2**62, Flag.DUG_UP, on=True)  # a probe that never spoke has nothing to mark


def test_refusals_are_kept_in_order_and_counted(store, readings):
    first = Refusal(NOON_MS, "mqtt garden/a", "no JSON", b"\x00{", 2)
    second = Refusal(NOON_MS - 5, "serial /dev/ttyUSB0", "check byte", b"x" * 65536, 5_000_000)
    store.commit(Batch(refusals=(first,)))
    store.commit(Batch(refusals=(second, first)))
    assert list(readings.refused()) == [first, second, first]
    assert readings.counts().refused == 3


def test_the_count_of_the_last_arrival_follows_what_came_last_so_a_clock_set_right_is_believed(store, readings):
    store.commit(Batch(readings=(reading(received_ms=NOON_MS + 10**10),)))
    store.commit(Batch(refusals=(Refusal(NOON_MS + 9, "s", "r", b"", 0),)))
    assert (readings.counts().refused, readings.counts().last_received_ms) == (1, NOON_MS + 10**10)
    store.commit(Batch(readings=(reading(minute=1, received_ms=NOON_MS + 61_000),)))
    assert readings.counts().last_received_ms == NOON_MS + 61_000


def test_unclaimed_tells_the_newest_of_each_address(store, readings):
    def heard(address, minute, value):
        return Unclaimed(address, "Cel", NOON_MS + minute * MINUTE_MS, value, NOON_MS, "mqtt garden/x")

    store.commit(Batch(unclaimed=(heard("urn:b", 2, 5.0), heard("urn:b", 1, 4.0), heard("urn:a", 1, 3.0))))
    store.commit(Batch(unclaimed=(heard("urn:b", 2, 6.0), Unclaimed("urn:c", None, NOON_MS, 1.0, NOON_MS, "s"))))
    assert readings.unclaimed() == (
        heard("urn:a", 1, 3.0),
        heard("urn:b", 2, 6.0),
        Unclaimed("urn:c", None, NOON_MS, 1.0, NOON_MS, "s"),
    )


def test_an_arrival_is_found_by_the_very_same_message_only(store):
    store.commit(Batch(arrivals=(Arrival("mqtt a", 7, b"12345678", NOON_MS),)))
    assert store.first_arrival("mqtt a", 7, b"12345678") == NOON_MS
    assert store.first_arrival("mqtt a", 7, b"87654321") is None
    assert store.first_arrival("mqtt a", 8, b"12345678") is None
    assert store.first_arrival("mqtt b", 7, b"12345678") is None
    store.commit(Batch(arrivals=(Arrival("mqtt a", 7, b"87654321", NOON_MS + 1),)))
    assert store.first_arrival("mqtt a", 7, b"12345678") is None
    assert store.first_arrival("mqtt a", 7, b"87654321") == NOON_MS + 1


def test_arrivals_do_not_grow_without_end(store, monkeypatch):
    monkeypatch.setattr(aside, "ARRIVALS_KEPT", 10)
    for number in range(40):
        store.commit(Batch(arrivals=(Arrival(f"mqtt {number}", 1, b"12345678", number),)))
    kept = [number for number in range(40) if store.first_arrival(f"mqtt {number}", 1, b"12345678") is not None]
    assert kept == list(range(30, 40))


def test_text_that_no_utf_8_can_hold_is_kept_escaped_and_blocks_nothing(store, readings):
    half = "\ud800 and \x00"
    store.commit(Batch(refusals=(Refusal(0, half, half, b"", 0),), unclaimed=(Unclaimed(half, half, 0, 1.0, 0, half),)))
    assert next(readings.refused()).source == "\\ud800 and \x00"
    assert readings.unclaimed()[0].address == "\\ud800 and \x00"


def test_a_batch_that_cannot_be_written_leaves_nothing_behind_and_the_next_one_passes(store, readings):
    bad = Batch(readings=(reading("new", 1), reading("new", 2, value=float("nan"))), refusals=(Refusal(0, "s", "r", b"", 0),))
    with pytest.raises(StoreError, match="NOT NULL"):
        store.commit(bad)
    assert readings.latest() == {}
    assert readings.counts() == Counts(0, None)
    store.commit(Batch(readings=(reading("other"), reading("new", 1))))
    assert readings.latest() == {"other": reading("other"), "new": reading("new", 1)}


def test_one_reader_answers_many_threads(store, readings):
    store.commit(Batch(readings=tuple(reading(f"p{probe}", minute) for probe in range(8) for minute in range(200))))

    def ask(probe):
        series = readings.series(f"p{probe}", 0, 2**62)
        streamed = sum(1 for _ in readings.readings([f"p{probe}"], 0, 2**62))
        return len(series.value), streamed, readings.latest()[f"p{probe}"].measured_ms

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(ask, [number % 8 for number in range(64)]))
    assert answers == [(200, 200, NOON_MS + 199 * MINUTE_MS)] * 64


def test_readings_of_one_moment_come_in_the_order_they_were_asked_for(store, readings):
    store.commit(Batch(readings=(reading("a"), reading("b"), reading("c"))))
    assert [one.probe_id for one in everything(readings, "c", "a")] == ["c", "a"]


def test_beyond_a_bound_the_oldest_refusals_go_and_stay_counted(store, readings, monkeypatch):
    monkeypatch.setattr(aside, "REFUSED_MOST_BYTES", 100 * (1000 + aside.REFUSAL_BYTES))
    for number in range(0, 250, 10):
        some = [Refusal(NOON_MS + one, "mqtt garden/a", "no JSON", b"x" * 1000, 1000) for one in range(number, number + 10)]
        store.commit(Batch(refusals=tuple(some)))
        kept = [one.received_ms - NOON_MS for one in readings.refused()]
        assert len(kept) <= 100
        assert kept == list(range(kept[0], number + 10))  # the newest, none missing
    assert len(kept) >= 85
    assert readings.counts().refused == 250
