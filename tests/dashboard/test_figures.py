"""The three charts: what they draw of a history, what they leave blank, and what their headings say of it."""

import copy
import datetime as dt
import json
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import plotly.graph_objects as go
import pytest

from collector.model import Series
from collector.query import BedHistory
from collector.units import UnitSystem
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Finding, Reader
from dashboard.figures.daily import in_days
from dashboard.figures.depth_time import deepest_over_m, depth_time, depth_time_finding
from dashboard.figures.temperatures import temperatures, temperatures_finding
from dashboard.figures.water import water, water_finding
from tests.dashboard import fakes
from tests.dashboard.fakes import DAY_MS, HOUR_MS, NOW_MS

READER = Reader("light", UnitSystem.METRIC, "Europe/Lisbon")
DARK, AMERICAN = replace(READER, mode="dark"), replace(READER, units=UnitSystem.US)
REFILL_MM = 10.8

Draw = Callable[[BedHistory, Reader], dict[str, Any]]
DRAWINGS: dict[str, Draw] = {
    "depth_time": depth_time,
    "temperatures": temperatures,
    "water": lambda history, reader: water(history, reader, REFILL_MM),
}
FINDINGS: dict[str, Callable[[BedHistory, Reader], Finding]] = {
    "depth_time": depth_time_finding,
    "temperatures": temperatures_finding,
    "water": lambda history, reader: water_finding(history, reader, REFILL_MM),
}
every_chart = pytest.mark.parametrize("draw", DRAWINGS.values(), ids=DRAWINGS)


def history(kind: str = "fine", days: float = 3, **changes: Any) -> BedHistory:
    return replace(fakes.history(fakes.bed_view(kind), NOW_MS - round(days * DAY_MS), NOW_MS), **changes)


def trace(figure: dict[str, Any], name: str) -> dict[str, Any]:
    (found,) = [each for each in figure["data"] if each["name"] == name]
    return found


def texts(figure: dict[str, Any]) -> list[str]:
    return [note["text"] for note in figure["layout"]["annotations"]]


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


def year(**changes: Any) -> BedHistory:
    return replace(fakes.history(fakes.bed_view("fine"), NOW_MS - 365 * DAY_MS, NOW_MS, step_ms=HOUR_MS), **changes)


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


# ---------------------------------------------------------------- temperatures


def test_every_thermometer_has_a_line_and_its_depth_stands_on_it() -> None:
    figure = temperatures(history(), READER)

    for depth in ("5 cm", "10 cm", "20 cm", "30 cm"):
        assert trace(figure, depth)["line"]["width"] == 1.7
        assert depth in texts(figure)
    assert trace(figure, "cloves")["line"]["width"] == 4
    assert "<b>cloves</b>" in texts(figure)


def test_depths_at_the_ends_of_lines_do_not_touch_each_other() -> None:
    figure = temperatures(history(), READER)
    low, high = figure["layout"]["yaxis"]["range"]

    ends = sorted(
        note["y"] for note in figure["layout"]["annotations"] if note.get("x") == NOW_MS and note["text"] != "<b>now</b>"
    )

    assert len(ends) == 5
    px_per_degree = (chart.HEIGHT_PX - 70) / (high - low)
    assert min(after - before for before, after in pairwise(ends)) * px_per_degree > 16.9


def test_a_probe_that_fell_silent_keeps_its_label_where_its_line_ends() -> None:
    past = history()
    (deepest, series) = past.temperatures[-1]
    half = series.time_ms.size // 2
    cut = Series(series.probe_id, series.time_ms[:half], series.value[:half], series.flags[:half])
    figure = temperatures(replace(past, temperatures=(*past.temperatures[:-1], (deepest, cut))), READER)

    (label,) = [note for note in figure["layout"]["annotations"] if note["text"] == "30 cm"]

    assert label["x"] == cut.time_ms[-1]


def test_a_distrusted_reading_is_not_drawn() -> None:
    past = history()
    (first, series), *rest = past.temperatures
    value, flags = series.value.copy(), series.flags.copy()
    value[50], flags[50] = 85.0, 2  # RESET_VALUE
    figure = temperatures(replace(past, temperatures=((first, replace(series, value=value, flags=flags)), *rest)), READER)

    assert max(number for number in trace(figure, "5 cm")["y"] if number is not None) < 30
    assert not [text for text in trace(figure, "plates")["text"] if "85.0" in text]
    assert figure["layout"]["yaxis"]["range"][1] < 30


def test_what_is_over_the_limit_is_hatched_down_to_the_limit() -> None:
    past = history()
    cloves_c = np.where(np.arange(past.grid_ms.size) % 100 < 30, 19.0, 17.0)
    figure = temperatures(replace(past, cloves_c=cloves_c), READER)

    hatched = [number for number in trace(figure, "over your limit")["y"] if number is not None]

    assert (min(hatched), max(hatched)) == (18.0, 19.0)
    assert trace(figure, "over your limit")["y"].count(None) == np.count_nonzero(np.diff(cloves_c) > 0) + 1


def test_the_limit_is_left_out_where_it_would_press_the_lines_flat() -> None:
    past = history()
    winter = replace(
        past,
        cloves_c=past.cloves_c - 14,
        temperatures=tuple((probe, replace(series, value=series.value - 14)) for probe, series in past.temperatures),
    )

    figure = temperatures(winter, READER)

    assert figure["layout"]["yaxis"]["range"][1] < 10
    assert "your limit" not in texts(figure)
    assert "your limit" in texts(temperatures(past, READER))


def test_american_growers_read_fahrenheit() -> None:
    metric, american = temperatures(history(), READER), temperatures(history(), AMERICAN)

    for celsius, degrees in zip(trace(metric, "cloves")["y"], trace(american, "cloves")["y"], strict=True):
        assert degrees == pytest.approx(celsius * 1.8 + 32, abs=0.01)
    assert "12 in" in texts(american)


@pytest.mark.parametrize(
    ("cloves_c", "heading"),
    [
        ([17.0, 17.5, 17.9, 18.0], "The cloves stayed under 18 °C."),
        ([18.2, 18.5, 18.9, 19.0], "The cloves stayed over 18 °C."),
        ([17.0, 17.5, 17.9, 18.1], "The cloves passed 18 °C today."),
        ([17.0, 18.5, 17.9, 17.1], "The cloves passed 18 °C on Sunday."),
        ([17.0, 18.5, 17.9, 18.1], "The cloves were over 18 °C on 2 of 4 days."),
        ([17.0, np.nan, np.nan, 17.1], "The cloves stayed under 18 °C, as far as is known."),
    ],
)
def test_the_heading_says_how_the_cloves_stood_to_the_limit(cloves_c: list[float], heading: str) -> None:
    days = np.array([NOW_MS - day * DAY_MS for day in (3, 2, 1, 0)], dtype=np.int64)

    assert temperatures_finding(history(grid_ms=days, cloves_c=np.array(cloves_c)), READER).heading == heading


def test_without_a_limit_the_heading_tells_the_range_and_the_note_says_why() -> None:
    days = np.array([NOW_MS - DAY_MS, NOW_MS], dtype=np.int64)
    finding = temperatures_finding(history("no_limit", grid_ms=days, cloves_c=np.array([14.24, 17.9])), READER)

    assert finding.heading == "The cloves were between 14.2 and 17.9 °C."
    assert "No cool limit is set" in finding.note


# ---------------------------------------------------------------- depth and time


def test_what_is_not_known_is_not_painted() -> None:
    past = history()
    hole = slice(100, 160)
    past.profile_c[hole] = np.nan
    field = trace(depth_time(past, READER), "soil")

    columns = [[row[place] for row in field["z"]] for place in range(len(field["x"]))]
    blank = {x for x, column in zip(field["x"], columns, strict=True) if all(number is None for number in column)}

    heard_ms = int(past.temperatures[0][1].time_ms[-1])
    assert blank == {*past.grid_ms[hole].tolist(), *past.grid_ms[past.grid_ms > heard_ms].tolist()}


def test_thinning_a_long_span_paints_no_column_that_is_half_unknown() -> None:
    month = fakes.history(fakes.bed_view("fine"), NOW_MS - 30 * DAY_MS, NOW_MS)
    month.profile_c[2000] = np.nan
    field = trace(depth_time(month, READER), "soil")

    assert len(field["x"]) <= 450
    blank = [x for place, x in enumerate(field["x"]) if field["z"][10][place] is None]
    assert abs(blank[0] - int(month.grid_ms[2000])) < 2 * HOUR_MS
    assert len(blank) <= 2  # that one, and the newest where its last hour is not heard yet


def test_the_colours_turn_at_the_limit_of_the_bed() -> None:
    field = trace(depth_time(history(), READER), "soil")

    assert (field["zmin"], field["zmax"]) == (6.0, 32.0)
    at_limit = [colour for share, colour in field["colorscale"] if share == pytest.approx(12 / 26)]
    assert at_limit == ["#6e5885", "#f2e1ab"]


def test_the_cool_line_is_drawn_twice_at_the_limit_and_only_where_there_is_one() -> None:
    lines = [each for each in depth_time(history(), READER)["data"] if each["type"] == "contour"]

    assert [line["line"]["width"] for line in lines] == [7.0, 3.2]
    assert {line["contours"]["start"] for line in lines} == {18.0}
    assert not [each for each in depth_time(history("no_limit"), READER)["data"] if each["type"] == "contour"]


def test_the_reach_of_warmth_lies_between_the_two_depths_of_the_grid() -> None:
    profile_c = np.array([[20.0, 19.0, 17.0], [17.0, 16.0, 15.0], [20.0, 19.0, 18.5], [np.nan, 19.0, np.nan], [17.0, 19.0, 16.0]])

    reach_m = deepest_over_m(profile_c, np.array([0.0, 0.1, 0.2]), 18.0)

    np.testing.assert_allclose(reach_m, [0.15, np.nan, 0.2, 0.1, 0.1 + 0.1 / 3])


@pytest.mark.parametrize(
    ("yesterday_c", "today_c", "heading"),
    [
        ([17.0, 16.0, 15.0], [17.9, 16.0, 15.0], "All the soil stayed under 18 °C."),
        ([19.0, 17.0, 15.0], [17.0, 16.0, 15.0], "The cool line sank to 5 cm on Monday; the cloves lie at 12."),
        ([19.0, 17.0, 15.0], [20.0, 19.0, 15.0], "The cool line passed the cloves today."),
        ([np.nan, np.nan, np.nan], [17.9, 16.0, 15.0], "All the soil stayed under 18 °C, as far as is known."),
    ],
)
def test_the_heading_says_how_deep_the_cool_line_sank(yesterday_c: list[float], today_c: list[float], heading: str) -> None:
    past = history(
        grid_ms=np.array([NOW_MS - DAY_MS, NOW_MS], dtype=np.int64),
        grid_depths_m=np.array([0.0, 0.1, 0.2]),
        profile_c=np.array([yesterday_c, today_c]),
    )

    assert depth_time_finding(past, READER).heading == heading


def test_covers_are_shown_where_the_profile_reaches_into_them() -> None:
    past = history("due")
    depths_m = np.arange(-0.14, 0.301, 0.01)
    high = replace(past, grid_depths_m=depths_m, profile_c=np.full((past.grid_ms.size, depths_m.size), 17.0))

    assert {"compost", "straw"} <= set(texts(depth_time(high, READER)))
    assert not {"compost", "straw"} & set(texts(depth_time(past, READER)))


# ---------------------------------------------------------------- water


def test_water_hangs_downward_from_full() -> None:
    low, high = water(history(), READER, REFILL_MM)["layout"]["yaxis"]["range"]

    assert low > REFILL_MM > 0 > high


def test_water_is_not_filled_in_where_it_is_not_known() -> None:
    past = history()
    past.depletion_mm[100:160] = np.nan
    figure = water(past, READER, REFILL_MM)

    assert trace(figure, "water")["y"].count(None) == 2
    assert trace(figure, "short of full")["y"].count(None) == 1


def test_below_the_refill_line_the_ground_is_hatched() -> None:
    figure = water(history(), READER, REFILL_MM)

    assert min(number for number in trace(figure, "too dry")["y"] if number is not None) == REFILL_MM
    assert "refill line" in texts(figure)
    unknown = water(history(), READER, None)
    assert "refill line" not in texts(unknown)
    assert not [each for each in unknown["data"] if each["name"] == "too dry"]


def test_waterings_are_triangles_with_their_litres_where_these_were_told() -> None:
    at_ms = NOW_MS - 2 * DAY_MS
    past = history(waterings=((at_ms, 61.0), (NOW_MS - DAY_MS, float("nan")), (NOW_MS - 9 * DAY_MS, 5.0)))
    marks = trace(water(past, READER, REFILL_MM), "waterings")

    assert marks["x"] == [at_ms, NOW_MS - DAY_MS]
    assert marks["text"] == [" 61 litres ", ""]
    assert marks["marker"]["symbol"] == "triangle-down"


def test_litres_are_written_only_where_they_cover_no_other_watering() -> None:
    hours = [68, 66, 64, 40, 21, 1]
    often = tuple((NOW_MS - hour * HOUR_MS, 20.0) for hour in hours)
    marks = trace(water(history(waterings=often), READER, REFILL_MM), "waterings")

    sides = zip(hours, marks["text"], marks["textposition"], strict=True)
    written = {hour: side for hour, text, side in sides if text}
    assert written == {64: "middle right", 40: "middle right", 21: "middle right"}


def test_the_litres_of_a_watering_just_now_stand_before_it() -> None:
    marks = trace(water(history(waterings=((NOW_MS - HOUR_MS, 20.0),)), READER, REFILL_MM), "waterings")

    assert (marks["text"], marks["textposition"]) == ([" 20 litres "], ["middle left"])


@pytest.mark.parametrize(
    ("depletion_mm", "heading"),
    [
        ([2.0, 3.0, 4.0, 6.0], "The roots are well, 5 litres per m² from the refill line."),
        ([7.0, 8.0, 9.0, 10.7], "The roots are at the refill line."),
        ([7.0, 9.0, 10.8, 12.0], "The roots ran short of water on Monday."),
        ([11.0, 11.5, 12.0, 13.0], "The roots were short of water all this time."),
        ([11.0, 2.0, np.nan, np.nan], "Not known since Sun 17:40."),
    ],
)
def test_the_heading_says_how_the_roots_stand(depletion_mm: list[float], heading: str) -> None:
    days = np.array([NOW_MS - day * DAY_MS for day in (3, 2, 1, 0)], dtype=np.int64)
    past = history(grid_ms=days, depletion_mm=np.array(depletion_mm))

    assert water_finding(past, READER, REFILL_MM).heading == heading


def test_american_growers_read_inches_of_water() -> None:
    past = history(depletion_mm=np.full(history().grid_ms.size, 5.72))
    finding = water_finding(past, AMERICAN, REFILL_MM)

    assert finding.heading == "The roots are well, 0.20 in from the refill line."
    assert "Inches of water" in finding.note
    ticks = water(past, AMERICAN, REFILL_MM)["layout"]["yaxis"]
    assert [mm / 25.4 for mm in ticks["tickvals"]] == pytest.approx([float(text) for text in ticks["ticktext"]])
