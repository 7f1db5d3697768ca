"""Times that are not to be believed, or are those of arrival: every series store keeps such readings apart."""

import pytest

from collector.model import Batch, Flag, Reading
from collector.stores.keys import SENT_TWICE_MS

NOON_MS = 1_776_081_600_000
BOOT_MS = 946_684_800_000  # 2000-01-01, where the clock of many a board begins


def stored(readings):
    return list(readings.readings(["t12"], 0, 2**62))


def wrong(value, received_ms=NOON_MS, measured_ms=BOOT_MS, flags=Flag.LONG_AGO):
    return Reading("t12", measured_ms, value, value, received_ms, flags)


def test_readings_of_a_board_whose_clock_starts_anew_with_each_boot_are_all_kept_in_order(store, readings):
    for boot in range(20):
        store.commit(Batch(beside=tuple(wrong(10 + boot, NOON_MS + boot * 3_600_000, BOOT_MS + 10 * n) for n in range(3))))
    found = stored(readings)
    assert len(found) == 60
    assert [one.measured_ms for one in found] == sorted(one.measured_ms for one in found)
    assert {one.value for one in found} == {10 + boot for boot in range(20)}
    assert found[1].received_ms == NOON_MS + 3_600_000, "moved a millisecond, it came when it came"


def test_equal_numbers_of_two_boots_are_two_readings(store, readings):
    store.commit(Batch(beside=(wrong(18.0),)))
    store.commit(Batch(beside=(wrong(18.0, NOON_MS + SENT_TWICE_MS),)))
    assert len(stored(readings)) == 2


def test_one_that_is_sent_twice_in_a_row_is_one_reading(store, readings):
    store.commit(Batch(beside=(wrong(18.0), wrong(18.0, NOON_MS + 1000))))
    assert len(stored(readings)) == 1


@pytest.mark.parametrize("flags", [Flag.LONG_AGO, Flag.FUTURE])
def test_a_time_that_is_not_believed_overwrites_no_reading_whose_time_is(store, readings, flags):
    right = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS)
    store.commit(Batch(readings=(right,)))
    store.commit(Batch(beside=(wrong(30.0, measured_ms=NOON_MS, flags=flags),)))
    assert stored(readings)[0] == right
    assert [one.value for one in stored(readings)] == [18.0, 30.0]


def test_one_with_no_time_of_its_own_overwrites_nothing_even_after_a_clock_was_set_back(store, readings):
    one = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS)
    store.commit(Batch(beside=(one, one)))
    store.commit(Batch(beside=(one,)))
    assert [each.measured_ms for each in stored(readings)] == [NOON_MS, NOON_MS + 1, NOON_MS + 2]


def test_the_later_value_of_a_believed_time_still_wins(store, readings):
    for value in (18.0, 19.0):
        store.commit(Batch(readings=(Reading("t12", NOON_MS, value, value, NOON_MS),)))
    assert [one.value for one in stored(readings)] == [19.0]


def test_a_time_once_believed_is_believed_whichever_way_our_clock_was_wrong(store, readings):
    right = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS, Flag.JUMP)
    too_early = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS - 3 * 3_600_000, Flag.FUTURE)
    store.commit(Batch(beside=(too_early,)))
    assert stored(readings)[0].flags == Flag.FUTURE
    store.commit(Batch(readings=(right,)))
    assert [one.flags for one in stored(readings)] == [Flag.JUMP]
    store.commit(Batch(beside=(too_early,)))
    assert [one.flags for one in stored(readings)] == [Flag.JUMP]
