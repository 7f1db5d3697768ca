"""Plausibility flags: what they catch, and the sound probes that they leave alone."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.checks import (
    DAY_MS,
    FALLEN_BACK_MS,
    FUTURE_AFTER_MS,
    HOUR_MS,
    LONG_AGO_MS,
    MINUTE_MS,
    check,
    check_imported,
    remember,
)
from collector.model import Flag, Probe, Reading
from collector.units import UNIT_RULES, Quantity
from tests.fakes import NOW_MS

SOIL = Probe("t12", "terrace", Quantity.SOIL_TEMPERATURE, "stake:t12", 0.12)
SURFACE = Probe("t2", "terrace", Quantity.SOIL_TEMPERATURE, "stake:t2", 0.02)
AIR = Probe("air", "terrace", Quantity.AIR_TEMPERATURE, "stake:air")
WATER = Probe("m15", "terrace", Quantity.SOIL_MOISTURE, "stake:m15", 0.15)


def flags_of(probe, values, *, every_ms=10 * MINUTE_MS, start_ms=NOW_MS - 30 * DAY_MS, memory=None):
    """The flags of values that come at an even pace, each as soon as it is measured."""
    found = []
    for number, value in enumerate(values):
        at_ms = start_ms + number * every_ms
        memory, flags = check(memory, probe, at_ms, value, at_ms)
        found.append(flags)
    return found


@pytest.mark.parametrize("quantity", list(Quantity))
def test_the_plausible_range_of_each_quantity_is_flagged_outside_and_nowhere_inside(quantity):
    probe = Probe("p", "terrace", quantity, "a")
    low, high = UNIT_RULES[quantity].plausible
    for value in (low, high, (low + high) / 2):
        assert flags_of(probe, [value]) == [Flag.NONE]
    for value in (math.nextafter(low, -math.inf), math.nextafter(high, math.inf)):
        assert flags_of(probe, [value]) == [Flag.OUT_OF_RANGE]


RESET = Flag.OUT_OF_RANGE | Flag.RESET_VALUE


def test_eighty_five_degrees_as_first_word_or_out_of_nowhere_is_the_reset_value():
    assert flags_of(SOIL, [85.0, 18.0, 85.0, 18.0625, 85.0, 85.0]) == [RESET, Flag.NONE, RESET, Flag.NONE, RESET, RESET]


def test_eighty_five_degrees_that_was_come_near_to_is_only_out_of_range():
    assert flags_of(SOIL, [79.0, 82.0, 85.0, 88.0])[2] == Flag.OUT_OF_RANGE


def test_close_to_the_reset_value_is_not_the_reset_value():
    assert flags_of(SOIL, [18.0, 84.9375]) == [Flag.NONE, Flag.OUT_OF_RANGE]


def test_a_moisture_of_eighty_five_is_no_reset():
    assert not flags_of(WATER, [85.0])[0] & Flag.RESET_VALUE


def test_a_thermometer_that_does_not_answer_is_disconnected():
    assert flags_of(SOIL, [18.0, -127.0, 18.0]) == [Flag.NONE, Flag.OUT_OF_RANGE | Flag.DISCONNECTED, Flag.NONE]


@pytest.mark.parametrize(
    ("probe", "value", "hours"), [(SOIL, 18.5, 48), (AIR, 18.5, 48), (WATER, 0.31, 7 * 24)], ids=["soil", "air", "moisture"]
)
def test_the_very_same_number_for_too_long_is_stuck_and_not_before(probe, value, hours):
    found = flags_of(probe, [value] * (hours + 3), every_ms=HOUR_MS)
    assert found == [Flag.NONE] * hours + [Flag.STUCK] * 3


def test_a_stuck_probe_that_moves_again_is_well():
    assert flags_of(SOIL, [18.5] * 50 + [18.5625, 18.5625], every_ms=HOUR_MS)[-3:] == [Flag.STUCK, Flag.NONE, Flag.NONE]


def test_a_few_readings_a_long_time_apart_are_not_stuck():
    assert set(flags_of(SOIL, [18.5] * 23, every_ms=12 * HOUR_MS)) == {Flag.NONE}


@pytest.mark.parametrize("quantity", [Quantity.RAIN, Quantity.SOLAR_IRRADIANCE, Quantity.WIND_SPEED, Quantity.BATTERY])
def test_what_may_rest_for_weeks_is_never_stuck(quantity):
    assert set(flags_of(Probe("p", "b", quantity, "a"), [0.0] * 500, every_ms=HOUR_MS)) == {Flag.NONE}


def test_a_probe_known_as_stuck_is_still_stuck_after_a_restart():
    last = Reading("t12", NOW_MS, 18.5, 18.5, NOW_MS, Flag.STUCK)
    assert flags_of(SOIL, [18.5, 18.5625], start_ms=NOW_MS + HOUR_MS, memory=remember(last)) == [Flag.STUCK, Flag.NONE]


def test_a_jump_is_flagged_until_the_soil_could_have_come_that_far():
    found = flags_of(SOIL, [18.0, 30.0] + [30.0] * 12)
    assert found[:2] == [Flag.NONE, Flag.JUMP]
    # 12 K, of which 6 K at once and 4 K an hour: believed an hour and a half after the last trusted reading
    assert found[1:9] == [Flag.JUMP] * 8
    assert set(found[9:]) == {Flag.NONE}


def test_coming_back_from_a_jump_is_no_second_one():
    assert flags_of(SOIL, [18.0, 40.0, 18.0625]) == [Flag.NONE, Flag.JUMP, Flag.NONE]


def test_after_a_gap_of_a_day_nothing_is_a_jump():
    assert flags_of(SOIL, [5.0, 35.0], every_ms=DAY_MS) == [Flag.NONE, Flag.NONE]


def test_the_shallower_the_faster_it_may_move():
    deep = Probe("t50", "terrace", Quantity.SOIL_TEMPERATURE, "a", 0.50)
    step = [18.0, 23.0]
    assert flags_of(deep, step)[1] == Flag.JUMP
    assert flags_of(SOIL, step)[1] == Flag.NONE


def test_watering_is_no_jump_but_a_probe_that_is_pulled_out_is_one():
    assert flags_of(WATER, [0.12, 0.44, 0.40, 0.36]) == [Flag.NONE] * 4
    assert flags_of(WATER, [0.31, 0.02])[1] == Flag.JUMP


def test_an_old_reading_that_comes_late_is_no_jump_and_changes_no_memory():
    memory, _ = check(None, SOIL, NOW_MS, 18.0, NOW_MS)
    after, flags = check(memory, SOIL, NOW_MS - 10 * DAY_MS, 30.0, NOW_MS)
    assert (after, flags) == (memory, Flag.NONE)


def test_the_newest_reading_come_again_has_the_flags_that_it_had():
    memory, _ = check(None, SOIL, NOW_MS, 18.0, NOW_MS)
    memory, first = check(memory, SOIL, NOW_MS + MINUTE_MS, 40.0, NOW_MS + MINUTE_MS)
    again, second = check(memory, SOIL, NOW_MS + MINUTE_MS, 40.0, NOW_MS + MINUTE_MS)
    assert first == second == Flag.JUMP
    assert again == memory
    stored = Reading("t12", NOW_MS + MINUTE_MS, 40.0, 40.0, NOW_MS, Flag.JUMP)
    assert check(remember(stored), SOIL, NOW_MS + MINUTE_MS, 40.0, NOW_MS + MINUTE_MS)[1] == Flag.JUMP


def test_a_time_in_the_future_or_long_ago_is_flagged_and_not_remembered():
    memory, _ = check(None, SOIL, NOW_MS, 18.0, NOW_MS)
    for measured_ms, wanted in [
        (NOW_MS + FUTURE_AFTER_MS, Flag.NONE),
        (NOW_MS + FUTURE_AFTER_MS + 1, Flag.FUTURE),
        (NOW_MS - FALLEN_BACK_MS, Flag.NONE),
        (NOW_MS - FALLEN_BACK_MS - 1, Flag.LONG_AGO),
    ]:
        after, flags = check(memory, SOIL, measured_ms, 18.5, NOW_MS)
        assert flags == wanted
        assert flags == Flag.NONE or after == memory


def test_the_first_that_a_probe_says_may_be_a_season_old_and_no_older():
    assert check(None, SOIL, NOW_MS - LONG_AGO_MS, 18.5, NOW_MS)[1] == Flag.NONE
    assert check(None, SOIL, NOW_MS - LONG_AGO_MS - 1, 18.5, NOW_MS)[1] == Flag.LONG_AGO


def test_a_row_of_a_table_may_be_of_any_year_and_stand_in_any_order():
    memory, flags = check_imported(None, SOIL, 0, 18.0, NOW_MS)
    assert flags == Flag.NONE
    memory, flags = check_imported(memory, SOIL, NOW_MS, 18.0, NOW_MS)
    assert flags == Flag.NONE
    assert check_imported(memory, SOIL, 0, 18.0, NOW_MS) == (memory, Flag.NONE)
    assert check_imported(memory, SOIL, NOW_MS + MINUTE_MS, 40.0, NOW_MS)[1] == Flag.JUMP
    assert check_imported(memory, SOIL, NOW_MS + DAY_MS, 18.0, NOW_MS) == (memory, Flag.FUTURE)


def test_a_probe_whose_last_reading_lies_in_the_future_starts_anew():
    assert remember(Reading("t12", NOW_MS + DAY_MS, 18.0, 18.0, NOW_MS, Flag.FUTURE)) is None


def test_the_reading_after_a_restart_is_compared_with_the_last_trusted_one():
    trusted = remember(Reading("t12", NOW_MS, 18.0, 18.0, NOW_MS))
    assert flags_of(SOIL, [40.0], start_ms=NOW_MS + MINUTE_MS, memory=trusted) == [Flag.JUMP]
    reset = remember(Reading("t12", NOW_MS, 85.0, 85.0, NOW_MS, RESET))
    assert flags_of(SOIL, [18.0], start_ms=NOW_MS + MINUTE_MS, memory=reset) == [Flag.NONE]


@given(
    mean_c=st.floats(5, 28),
    amplitude_k=st.floats(0, 20),
    minutes=st.sampled_from([1, 5, 10, 30, 60]),
    phase=st.floats(0, 1),
)
def test_a_daily_wave_of_bare_soil_never_raises_a_flag(mean_c, amplitude_k, minutes, phase):
    per_day = 24 * 60 // minutes
    wave = [
        round((mean_c + amplitude_k * math.sin(2 * math.pi * (number / per_day + phase))) * 16) / 16
        for number in range(min(per_day, 300))
    ]
    assert set(flags_of(SURFACE, wave, every_ms=minutes * MINUTE_MS)) == {Flag.NONE}
