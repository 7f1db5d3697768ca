"""Own and public weather in one table: the garden's probes win where they speak, hour by hour, the public word fills."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.soil.forecast.inputs import AIR_C, HOUR_MS, HUMIDITY_PCT, RAIN_MM, SUN_W_M2, Weather, hourly_means
from collector.weather_table import merged

# A full hour.
NOON_MS = 1_776_081_600_000
TEN_MIN_MS = 600_000


def hours(begin, end):
    return NOON_MS + HOUR_MS * np.arange(begin, end + 1, dtype=np.int64)


def public(begin=-4, end=4, **columns):
    time_ms = hours(begin, end)
    columns = columns or {AIR_C: 20.0, SUN_W_M2: 300.0}
    return Weather(time_ms, {name: np.broadcast_to(np.float64(value), time_ms.shape).copy() for name, value in columns.items()})


def at(weather, name, hour):
    (place,) = np.flatnonzero(weather.time_ms == NOON_MS + hour * HOUR_MS)
    return weather.columns[name][place]


def test_own_probes_win_up_to_now_and_the_public_word_fills_what_they_lack_and_what_is_ahead():
    own = Weather(hours(-4, 0), {AIR_C: np.array([14.0, 15.0, 16.0, np.nan, 17.0])})
    both = merged(own, public(-5), NOON_MS)
    assert both.time_ms.tolist() == hours(-5, 4).tolist()
    assert both.columns[AIR_C].tolist() == [20, 14, 15, 16, 20, 17, 20, 20, 20, 20]
    assert both.columns[SUN_W_M2].tolist() == [300.0] * 10


def test_own_readings_at_any_pace_count_as_means_of_the_hour():
    time_ms = NOON_MS - HOUR_MS + TEN_MIN_MS * np.arange(1, 7, dtype=np.int64)
    both = merged(Weather(time_ms, {AIR_C: np.array([10.0, 11, 12, 13, 14, 15])}), public(), NOON_MS)
    assert at(both, AIR_C, 0) == pytest.approx(12.5)
    assert at(both, AIR_C, -1) == 20


def test_the_hour_that_is_not_over_is_the_public_one():
    now_ms = NOON_MS + 50 * 60_000
    time_ms = NOON_MS + TEN_MIN_MS * np.arange(-6, 6, dtype=np.int64)
    both = merged(Weather(time_ms, {AIR_C: np.full(12, 10.0)}), public(), now_ms)
    assert at(both, AIR_C, 0) == 10
    assert at(both, AIR_C, 1) == 20


def test_a_quantity_that_only_one_of_them_knows_is_there_and_one_that_nobody_knows_is_not():
    own = Weather(hours(-1, 0), {HUMIDITY_PCT: np.array([60.0, 61.0])})
    both = merged(own, public(), NOON_MS)
    assert set(both.columns) == {AIR_C, SUN_W_M2, HUMIDITY_PCT}
    assert np.isnan(at(both, HUMIDITY_PCT, 1))
    assert at(both, HUMIDITY_PCT, 0) == 61


def test_own_rain_of_many_readings_adds_up_to_the_hour():
    # `rain` is what fell since the last reading (firmware_notes/payload.md)
    time_ms = NOON_MS - HOUR_MS + TEN_MIN_MS * np.arange(1, 7, dtype=np.int64)
    both = merged(Weather(time_ms, {RAIN_MM: np.array([0.2, 0, 0, 1.0, 0.4, 0])}), public(**{RAIN_MM: 9.0}), NOON_MS)
    assert at(both, RAIN_MM, 0) == pytest.approx(1.6)
    assert at(both, RAIN_MM, -1) == 9
    assert at(both, RAIN_MM, 1) == 9


def test_own_rain_of_a_reading_every_three_hours_is_spread_over_them():
    own = Weather(NOON_MS + 3 * HOUR_MS * np.arange(-2, 1, dtype=np.int64), {RAIN_MM: np.array([0.0, 6.0, 0.0])})
    both = merged(own, public(-8, 2, **{RAIN_MM: 9.0}), NOON_MS)
    assert [at(both, RAIN_MM, hour) for hour in (-5, -4, -3)] == pytest.approx([2, 2, 2])
    assert [at(both, RAIN_MM, hour) for hour in (-2, -1, 0)] == pytest.approx([0, 0, 0])


def test_either_may_be_empty_and_both():
    own = Weather(hours(-2, 0), {AIR_C: np.array([15.0, 16.0, 17.0])})
    assert merged(own, Weather(), NOON_MS).columns[AIR_C].tolist() == [15, 16, 17]
    assert merged(Weather(), public(), NOON_MS).columns[AIR_C].tolist() == [20.0] * 9
    assert merged(Weather(), Weather(), NOON_MS).time_ms.size == 0


def test_a_public_hour_that_is_not_known_stays_so_though_its_neighbours_are_known():
    told = public(-2, 2, **{RAIN_MM: [0.0, np.nan, 1.5, np.nan, 0.5]})
    assert merged(Weather(), told, NOON_MS).columns[RAIN_MM] == pytest.approx([0, np.nan, 1.5, np.nan, 0.5], nan_ok=True)


def test_own_probes_that_know_nothing_change_nothing():
    own = Weather(hours(-2, 0), {AIR_C: np.full(3, np.nan), RAIN_MM: np.full(3, np.nan)})
    both = merged(own, public(), NOON_MS)
    assert both.columns[AIR_C].tolist() == [20.0] * 9
    assert np.isnan(both.columns[RAIN_MM]).all()


@given(
    st.lists(st.tuples(st.integers(-40 * 6, 0), st.floats(0, 30) | st.just(float("nan"))), max_size=60),
    st.integers(-40, 5),
)
def test_each_value_is_that_of_the_probes_where_they_speak_and_else_that_of_the_public_table(told, begin):
    own = Weather(
        np.array([NOON_MS + TEN_MIN_MS * step for step, _ in told], dtype=np.int64),
        {AIR_C: np.array([value for _, value in told], dtype=np.float64)},
    )
    other = public(begin, 6, **{AIR_C: 50.0})
    both = merged(own, other, NOON_MS)
    values = both.columns[AIR_C]
    measured = hourly_means(own.time_ms, own.columns[AIR_C], both.time_ms)
    past = (both.time_ms <= NOON_MS) & np.isfinite(measured)
    assert values[past] == pytest.approx(measured[past])
    told_there = np.isin(both.time_ms, other.time_ms)
    assert (values[~past & told_there] == 50.0).all()
    assert np.isnan(values[~past & ~told_there]).all()
