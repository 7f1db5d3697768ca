"""Daylength against an almanac, a reference library and published tables."""

from __future__ import annotations

import calendar
import datetime as dt

import pytest

from collector.crop import daylength
from collector.crop.daylength import Definition, Threshold, daylength_h, first_long_day, sun_times_ms
from collector.crop.limits import Limit
from collector.soil.radiation import daylight_hours

DAYS = [dt.date(2026, 3, 21), dt.date(2026, 4, 15), dt.date(2026, 5, 15), dt.date(2026, 6, 21), dt.date(2026, 12, 21)]
MINUTE_H = 1.0 / 60.0

# Worked out once with the library ephem 4.2.1 (the planetary theory VSOP87), longitude 0, 2026, in hours: the sun's centre at
# a flat horizon without air; its upper edge 34' below, as almanacs have it.
EPHEM_GEOMETRIC = {
    0.0: [11.997, 11.998, 12.000, 12.001, 12.004],
    20.0: [12.014, 12.482, 12.956, 13.212, 10.793],
    25.0: [12.019, 12.618, 13.227, 13.557, 10.448],
    30.0: [12.024, 12.766, 13.523, 13.934, 10.070],
    35.0: [12.030, 12.931, 13.853, 14.358, 9.647],
    -30.0: [11.970, 11.229, 10.476, 10.068, 13.937],
}
EPHEM_ALMANAC = {
    0.0: [12.108, 12.110, 12.117, 12.122, 12.126],
    20.0: [12.133, 12.602, 13.082, 13.342, 10.924],
    25.0: [12.142, 12.743, 13.358, 13.693, 10.585],
    30.0: [12.153, 12.897, 13.661, 14.078, 10.215],
    35.0: [12.166, 13.069, 14.001, 14.513, 9.802],
    -30.0: [12.098, 11.360, 10.614, 10.212, 14.082],
}
# The same elsewhere, with civil twilight: latitude, longitude, date, then the three definitions in order.
EPHEM_ELSEWHERE = [
    (37.1, -7.6, dt.date(2026, 4, 28), (13.475, 13.621, 14.545)),
    (55.0, -3.2, dt.date(2026, 6, 21), (17.102, 17.373, 19.317)),
    (64.0, 25.5, dt.date(2026, 12, 21), (3.636, 4.203, 6.805)),
    (-41.3, 174.8, dt.date(2026, 10, 20), (13.219, 13.371, 14.330)),
    (0.3, 32.6, dt.date(2026, 3, 21), (11.997, 12.109, 12.797)),
    (48.1, -170.0, dt.date(2026, 9, 23), (11.941, 12.107, 13.141)),
]


@pytest.mark.parametrize("latitude_deg", EPHEM_GEOMETRIC)
def test_the_day_of_the_suns_centre_agrees_with_ephem_within_a_minute(latitude_deg: float) -> None:
    hours = [daylength_h(day, latitude_deg, 0.0, Definition.GEOMETRIC) for day in DAYS]
    assert hours == pytest.approx(EPHEM_GEOMETRIC[latitude_deg], abs=MINUTE_H)


@pytest.mark.parametrize("latitude_deg", EPHEM_ALMANAC)
def test_the_almanacs_day_agrees_with_ephem_within_a_minute(latitude_deg: float) -> None:
    hours = [daylength_h(day, latitude_deg, 0.0, Definition.ALMANAC) for day in DAYS]
    assert hours == pytest.approx(EPHEM_ALMANAC[latitude_deg], abs=MINUTE_H)


@pytest.mark.parametrize(("latitude_deg", "longitude_deg", "day", "ephem_h"), EPHEM_ELSEWHERE)
def test_the_day_agrees_with_ephem_far_from_greenwich_and_near_the_poles(
    latitude_deg: float, longitude_deg: float, day: dt.date, ephem_h: tuple[float, float, float]
) -> None:
    hours = [daylength_h(day, latitude_deg, longitude_deg, definition) for definition in Definition]
    assert hours == pytest.approx(ephem_h, abs=MINUTE_H)


# L. Strous, Astronomy Answers, The Position of the Sun: Tables, Table 1 (aa.quae.nl/en/antwoorden/zonpositie-tabel.html): sunrise
# of 1 January 2002 in local time by latitude, printed to the minute.
STROUS = {-60: "2:43", -40: "4:35", -20: "5:24", 0: "6:00", 20: "6:35", 30: "6:56", 40: "7:22", 50: "7:59"}


@pytest.mark.parametrize("latitude_deg", STROUS)
def test_sunrise_agrees_with_a_published_table_at_the_printed_minute(latitude_deg: int) -> None:
    times_ms = sun_times_ms(dt.date(2002, 1, 1), float(latitude_deg), 0.0, Definition.ALMANAC)
    assert times_ms is not None
    hours, minutes = STROUS[latitude_deg].split(":")
    printed_h = int(hours) + int(minutes) / 60.0
    midnight_ms = dt.datetime(2002, 1, 1, tzinfo=dt.UTC).timestamp() * 1000.0
    # half of the last digit, and as much again for the table's own rounding of the way there
    assert (times_ms[0] - midnight_ms) / 3.6e6 == pytest.approx(printed_h, abs=MINUTE_H)


@pytest.mark.parametrize("latitude_deg", [-45.0, 0.0, 28.5, 37.1, 52.0])
def test_sunrise_sunset_and_twilight_agree_with_astral_within_a_minute(latitude_deg: float) -> None:
    # astral is installed for this test only; where it is not, the rows of ephem above say the same
    astral = pytest.importorskip("astral", reason="pip install astral to run")
    sun = pytest.importorskip("astral.sun")
    place = astral.Observer(latitude=latitude_deg, longitude=-7.6, elevation=0.0)
    for day in (DAYS[0], dt.date(2026, 4, 28), DAYS[3], dt.date(2026, 10, 20), DAYS[4]):
        for definition, begin, end in (
            (Definition.ALMANAC, sun.sunrise, sun.sunset),
            (Definition.CIVIL, sun.dawn, sun.dusk),
        ):
            times_ms = sun_times_ms(day, latitude_deg, -7.6, definition)
            assert times_ms is not None
            astral_ms = [moment(place, date=day).timestamp() * 1000.0 for moment in (begin, end)]
            assert times_ms == pytest.approx(astral_ms, abs=60_000.0)


# Allen et al. 1998, FAO-56, eq. 34: its declination is 0.35° off at the equinox, 3.5 minutes of daylight at 35°
@pytest.mark.parametrize("latitude_deg", [-30.0, 0.0, 20.0, 35.0])
def test_the_day_of_the_suns_centre_is_near_that_of_fao56(latitude_deg: float) -> None:
    for day in DAYS:
        fao_h = daylight_hours(latitude_deg, float(day.timetuple().tm_yday))
        assert daylength_h(day, latitude_deg, 0.0, Definition.GEOMETRIC) == pytest.approx(fao_h, abs=4 * MINUTE_H)


# Mean hours of daylight by month at 20° N of Bautista 2009, as in the tests of the library PyETo (second-hand), one decimal
BAUTISTA_20N = [10.9, 11.3, 11.9, 12.5, 12.9, 13.2, 13.1, 12.7, 12.1, 11.5, 11.0, 10.8]


def test_the_mean_of_each_month_agrees_with_a_published_table_of_20_degrees_north() -> None:
    for month, printed_h in enumerate(BAUTISTA_20N, start=1):
        days = [dt.date(2009, month, 1) + dt.timedelta(days=day) for day in range(calendar.monthrange(2009, month)[1])]
        mean_h = sum(daylength_h(day, 20.0, 0.0, Definition.GEOMETRIC) for day in days) / len(days)
        # half of the last digit, and two minutes for the coarser sun of such tables
        assert mean_h == pytest.approx(printed_h, abs=0.05 + 2 * MINUTE_H)


# The first date that reaches a threshold by the almanac, worked out once with ephem: latitude, hours, date of 2026
@pytest.mark.parametrize(
    ("latitude_deg", "hours", "reached"),
    [
        (20.0, 13.0, dt.date(2026, 5, 10)),
        (25.0, 13.0, dt.date(2026, 4, 27)),
        (30.0, 13.0, dt.date(2026, 4, 19)),
        (35.0, 13.0, dt.date(2026, 4, 14)),
        (25.0, 13.5, dt.date(2026, 5, 25)),
        (30.0, 13.5, dt.date(2026, 5, 8)),
        (35.0, 13.5, dt.date(2026, 4, 28)),
        (30.0, 14.0, dt.date(2026, 6, 6)),
        (35.0, 14.0, dt.date(2026, 5, 15)),
        (38.0, 14.0, dt.date(2026, 5, 8)),
        (20.0, 13.5, None),
        (25.0, 14.0, None),
    ],
)
def test_the_first_long_day_agrees_with_ephem_to_the_day(latitude_deg: float, hours: float, reached: dt.date | None) -> None:
    limit = Limit(hours, "h", daylength.BULBING.hours.evidence, "a number to try")
    threshold = Threshold(limit, Definition.ALMANAC)
    found = first_long_day(threshold, latitude_deg, 0.0, dt.date(2026, 1, 1), dt.date(2026, 7, 1))
    assert found == reached


# Brewster, Onions and Other Vegetable Alliums: garlic of California (36 to 38° N) begins to bulb in late April
def test_the_threshold_of_bulbing_falls_into_late_april_where_it_comes_from() -> None:
    found = first_long_day(daylength.BULBING, 38.0, -120.0, dt.date(2026, 1, 1), dt.date(2026, 7, 1))
    assert found is not None
    assert dt.date(2026, 4, 20) <= found <= dt.date(2026, 4, 30)


# Del Pozo & González 2005: no bulbs at 12 h, all above 14 h; below about 29° no day of the almanac is 14 h long, and above it
# one is (worked out, from the rows above: 13.69 h at 25° N, 14.08 h at 30° N)
def test_a_low_latitude_never_has_the_day_at_which_all_plants_bulbed() -> None:
    year = (dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    assert first_long_day(daylength.ALL_BULB, 28.5, 0.0, *year) is None
    assert first_long_day(daylength.ALL_BULB, 29.5, 0.0, *year) is not None
    assert first_long_day(daylength.NONE_BULB, 28.5, 0.0, *year) is not None
