"""What the three charts have in common: blank where nothing is known, their inks, their time, their lines."""

import copy
import datetime as dt
import json
from dataclasses import replace
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import plotly.graph_objects as go
import pytest

from collector.model import Series
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Reader
from dashboard.figures.daily import in_days
from dashboard.figures.temperatures import temperatures
from tests.dashboard import fakes
from tests.dashboard.charts import (
    AMERICAN,
    DARK,
    FINDINGS,
    READER,
    Draw,
    every_chart,
    history,
    texts,
    trace,
    year,
)
from tests.dashboard.fakes import DAY_MS, NOW_MS

# ---------------------------------------------------------------- all three


@every_chart
@pytest.mark.parametrize(("kind", "reader"), [*((kind, READER) for kind in fakes.KINDS), ("due", DARK), ("due", AMERICAN)])
def test_plotly_takes_every_part_of_the_chart_of_a_bed_in_any_state(draw: Draw, kind: str, reader: Reader) -> None:
    figure = draw(history(kind), reader)

    go.Figure(figure)  # refuses names and values that Plotly does not know
    json.dumps(figure, allow_nan=False)  # what is not known is null, and no NaN travels


@every_chart
def test_a_chart_is_made_anew_at_each_call(draw: Draw) -> None:
    past = history()
    first = draw(past, READER)
    kept = copy.deepcopy(first)
    second = draw(past, READER)

    assert first == second
    second["layout"]["shapes"].clear()
    second["data"].clear()
    assert first == kept


@every_chart
def test_a_chart_of_nothing_says_so_in_words(draw: Draw) -> None:
    figure = draw(history("never"), READER)

    assert figure["data"] == []
    (words,) = texts(figure)
    assert words.endswith("in these days.")


@every_chart
def test_the_chart_of_an_empty_span_is_a_chart_of_nothing(draw: Draw) -> None:
    nothing = history()
    empty = replace(
        nothing,
        grid_ms=nothing.grid_ms[:0],
        cloves_c=nothing.cloves_c[:0],
        profile_c=nothing.profile_c[:0],
        depletion_mm=nothing.depletion_mm[:0],
        temperatures=tuple(
            (probe, Series(probe.id, s.time_ms[:0], s.value[:0], s.flags[:0])) for probe, s in nothing.temperatures
        ),
    )

    assert draw(empty, READER)["data"] == []


@pytest.mark.parametrize("name", FINDINGS)
def test_the_heading_of_nothing_says_that_nothing_is_known(name: str) -> None:
    assert "not known" in FINDINGS[name](history("never"), READER).heading


@every_chart
def test_a_chart_is_bare_and_cannot_be_dragged(draw: Draw) -> None:
    layout = draw(history(), READER)["layout"]

    assert layout["dragmode"] is False
    assert layout["showlegend"] is False
    assert layout["paper_bgcolor"] == layout["plot_bgcolor"] == chart.INVISIBLE
    assert all(layout[axis]["fixedrange"] for axis in ("xaxis", "yaxis"))


@every_chart
def test_a_chart_has_the_inks_of_its_mode(draw: Draw) -> None:
    for reader, ink in ((READER, theme.LIGHT.ink), (DARK, theme.DARK.ink)):
        assert draw(history(), reader)["layout"]["font"]["color"] == ink


@every_chart
def test_a_tap_shows_the_moment_in_the_gardens_own_time(draw: Draw) -> None:
    plates = trace(draw(history(days=3), READER), "plates")

    first = dt.datetime.fromtimestamp(plates["x"][0] / 1000, ZoneInfo("Europe/Lisbon"))
    assert plates["text"][0].startswith(f"<b>{first:%a} {first.hour}:{first:%M}</b>")


@every_chart
def test_a_year_or_a_month_travels_as_half_a_megabyte_at_the_most(draw: Draw) -> None:
    assert len(json.dumps(draw(year(), READER))) < 500_000
    assert len(json.dumps(draw(history(days=30), READER))) < 500_000


# ---------------------------------------------------------------- time


def midnights(from_ms: int, to_ms: int, zone: str) -> list[dt.datetime]:
    return [dt.datetime.fromtimestamp(at / 1000, ZoneInfo(zone)) for at in chart.time_marks(from_ms, to_ms, zone).lines_ms]


@pytest.mark.parametrize("month", [3, 10])
def test_midnights_are_the_gardens_own_across_a_clock_change(month: int) -> None:
    # Lisbon's clocks changed on Sunday 29 March and Sunday 25 October 2026 (tz database, Rule EU)
    middle = dt.datetime(2026, month, 29 if month == 3 else 25, 12, tzinfo=ZoneInfo("Europe/Lisbon"))
    at_ms = int(middle.timestamp() * 1000)
    lines = midnights(at_ms - 2 * DAY_MS, at_ms + 2 * DAY_MS, "Europe/Lisbon")

    assert [line.hour for line in lines] == [0, 0, 0, 0]
    lengths_h = [(after.timestamp() - before.timestamp()) / 3600 for before, after in pairwise(lines)]
    assert lengths_h == [24, 23 if month == 3 else 25, 24]


def test_time_never_runs_backward_where_an_hour_is_repeated() -> None:
    at_ms = int(dt.datetime(2026, 10, 25, 12, tzinfo=dt.UTC).timestamp() * 1000)
    past = history()
    shift_ms = at_ms - NOW_MS
    moved = replace(past, grid_ms=past.grid_ms + shift_ms, from_ms=past.from_ms + shift_ms, to_ms=at_ms, now_ms=at_ms)

    x = trace(temperatures(moved, READER), "cloves")["x"]

    assert all(before < after for before, after in pairwise(x))


@pytest.mark.parametrize(
    ("days", "names"),
    [
        (1, ["18:00", "0:00", "6:00", "12:00"]),
        (3, ["Sun 11", "Mon 12", "Tue 13"]),
        (7, ["Wed<br>7", "Thu<br>8", "Fri<br>9", "Sat<br>10", "Sun<br>11", "Mon<br>12", "Tue<br>13"]),
        (30, ["15 Mar", "22 Mar", "29 Mar", "5 Apr", "12 Apr"]),
        (365, ["May", "Jul", "Sep", "Nov", "Jan", "Mar"]),
    ],
)
def test_days_weeks_or_months_are_named_so_that_a_phone_has_room(days: int, names: list[str]) -> None:
    marks = chart.time_marks(NOW_MS - days * DAY_MS, NOW_MS, "Europe/Lisbon")

    assert [name for _, name in marks.names] == names


# ---------------------------------------------------------------- lines


def test_a_line_breaks_where_a_value_is_missing_and_where_three_readings_are() -> None:
    time_ms = np.array([0, 1, 2, 3, 4, 9, 10, 11, 12], dtype=np.int64) * 600_000
    value = np.array([1.0, 2.0, np.nan, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0])

    x, y = chart.thinned(time_ms, value)

    assert y == [1.0, 2.0, None, 4.0, 5.0, None, 6.0, 7.0, 8.0, 9.0]
    assert [at is None for at in x] == [number is None for number in y]


def test_a_reading_or_two_missed_break_no_line() -> None:
    time_ms = np.array([0, 1, 2, 5, 6, 7], dtype=np.int64) * 600_000

    assert None not in chart.thinned(time_ms, np.arange(6.0))[1]


def test_a_thinned_line_keeps_the_peak_the_trough_and_the_gap() -> None:
    rng = np.random.default_rng(1)
    value = rng.normal(15, 1, 50_000)
    value[20_000], value[33_333], value[40_000:41_000] = 44.0, -7.0, np.nan

    _, y = chart.thinned(np.arange(50_000, dtype=np.int64) * 60_000, value)

    known = [number for number in y if number is not None]
    assert len(y) < 1500
    assert (max(known), min(known)) == (44.0, -7.0)
    assert y.count(None) == 1


def test_a_year_is_told_in_means_of_24_hours_and_three_days_in_full() -> None:
    hours = year().grid_ms.size
    told = in_days(year(cloves_c=np.arange(hours, dtype=float)))

    assert told.grid_ms.size == 365
    # the first day holds hours 0 to 23, and so on
    np.testing.assert_allclose(told.cloves_c[:3], [11.5, 35.5, 59.5])
    short = history()
    assert in_days(short) is short


def test_a_day_of_which_a_third_is_missing_is_not_known() -> None:
    cloves_c = np.full(year().grid_ms.size, 15.0)
    cloves_c[24:32], cloves_c[48:53] = np.nan, np.nan
    told = in_days(year(cloves_c=cloves_c))

    np.testing.assert_array_equal(np.isnan(told.cloves_c[:4]), [False, True, False, False])


def test_a_day_without_a_reading_is_a_gap_in_a_year() -> None:
    (probe, series), *rest = year().temperatures
    keep = (series.time_ms < NOW_MS - 200 * DAY_MS) | (series.time_ms >= NOW_MS - 198 * DAY_MS)
    holed = Series(series.probe_id, series.time_ms[keep], series.value[keep], series.flags[keep])
    line = trace(temperatures(year(temperatures=((probe, holed), *rest)), READER), "5 cm")

    assert line["y"].count(None) == 1
