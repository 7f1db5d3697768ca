"""The chart of depth temperatures against the cool limit."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from collector.journal import Deed
from collector.model import Series
from dashboard.figures import chart
from dashboard.figures.temperature_words import temperatures_finding
from dashboard.figures.temperatures import temperatures
from tests.dashboard.charts import AMERICAN, READER, history, texts, trace
from tests.dashboard.fakes import DAY_MS, HOUR_MS, NOW_MS


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
        assert degrees == pytest.approx(celsius * 1.8 + 32, abs=0.015)  # both are rounded to hundredths
    assert "12 in" in texts(american)


@pytest.mark.parametrize(
    ("cloves_c", "heading"),
    [
        ([17.0, 17.5, 17.9, 18.0], "The cloves stayed under 18 °C."),
        ([18.2, 18.5, 18.9, 19.0], "The day's mean at the cloves stayed over 18 °C."),
        ([17.0, 17.5, 17.9, 18.1], "The day's mean at the cloves passed 18 °C today."),
        ([17.0, 18.5, 17.9, 17.1], "The day's mean at the cloves passed 18 °C on Sunday."),
        ([17.0, 18.5, 17.9, 18.1], "The day's mean at the cloves was over 18 °C on 2 of 4 days."),
        ([17.0, np.nan, np.nan, 17.1], "The cloves stayed under 18 °C, as far as is known."),
        ([18.5, np.nan, 17.0, 18.1], "The day's mean at the cloves was over 18 °C on 2 of 3 days, as far as is known."),
    ],
)
def test_the_heading_says_how_the_cloves_stood_to_the_limit(cloves_c: list[float], heading: str) -> None:
    days = np.array([NOW_MS - day * DAY_MS for day in (3, 2, 1, 0)], dtype=np.int64)

    assert temperatures_finding(history(grid_ms=days, cloves_c=np.array(cloves_c)), READER).heading == heading


def test_hours_over_the_limit_are_told_apart_from_days_whose_mean_is_over_it() -> None:
    past = history()
    wave_c = np.sin(2 * np.pi * (past.grid_ms - NOW_MS) / DAY_MS)

    def heading(cloves_c: np.ndarray) -> str:
        return temperatures_finding(history(cloves_c=cloves_c), READER).heading

    assert heading(17.6 + wave_c) == "The cloves passed 18 °C for some hours, but not on the mean of a day."
    assert heading(18.4 + wave_c) == "The day's mean at the cloves stayed over 18 °C."
    # known for no more than the last twelve hours, which have no mean of a day
    lately = np.where(past.grid_ms > NOW_MS - DAY_MS // 2, 18.5, np.nan)
    assert heading(lately) == "The cloves passed 18 °C for some hours; no day is known well enough for its mean."


def test_without_a_limit_the_heading_tells_the_range_and_the_note_says_why() -> None:
    days = np.array([NOW_MS - DAY_MS, NOW_MS], dtype=np.int64)
    finding = temperatures_finding(history("no_limit", grid_ms=days, cloves_c=np.array([14.24, 17.9])), READER)

    assert finding.heading == "The cloves were between 14.2 and 17.9 °C."
    assert "No cool limit is set" in finding.note


def test_what_was_done_about_warmth_and_feed_stands_along_the_foot():
    done = ((NOW_MS - 30 * HOUR_MS, Deed.CLOTH_LAID), (NOW_MS - 20 * HOUR_MS, Deed.FED), (NOW_MS - 400 * DAY_MS, Deed.CLOTH_OFF))
    short = temperatures(replace(history(), deeds=done), READER)
    notes = {one["text"]: one for one in short["layout"]["annotations"]}
    assert notes["▾ cloth laid"]["x"] == NOW_MS - 30 * HOUR_MS
    assert "◆ fed" in notes
    assert "▴ cloth off" not in notes  # before the chart begins
    long = temperatures(replace(history(days=60), deeds=done), READER)
    assert {"▾", "◆"} <= {one["text"] for one in long["layout"]["annotations"]}
