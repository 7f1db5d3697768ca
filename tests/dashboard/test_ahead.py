"""The charts look ahead: what is dashed, hollow and banded, how it joins what was, and what the headings say of it."""

import json
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from collector.outlook import TemperatureAhead
from collector.query import BedHistory
from dashboard.figures.depth_time import depth_time, depth_time_ahead, ground_ahead
from dashboard.figures.depth_words import depth_time_finding
from dashboard.figures.temperature_words import temperatures_finding
from dashboard.figures.temperatures import temperatures
from dashboard.figures.water import water
from dashboard.figures.water_words import water_finding
from tests.dashboard import fakes
from tests.dashboard.charts import AMERICAN, DARK, DRAWINGS, FINDINGS, READER, REFILL_MM, history, texts, trace, with_ahead, year
from tests.dashboard.fakes import DAY_MS, HOUR_MS, MINUTE_MS, NOW_MS


def changed(past: BedHistory, **changes: object) -> BedHistory:
    """The same with another expectation of the temperatures."""
    assert past.outlook is not None
    assert past.outlook.temperature is not None
    return replace(past, outlook=replace(past.outlook, temperature=replace(past.outlook.temperature, **changes)))


def part(past: BedHistory) -> TemperatureAhead:
    assert past.outlook is not None
    assert past.outlook.temperature is not None
    return past.outlook.temperature


# ---------------------------------------------------------------- all of them


@pytest.mark.parametrize("reader", [READER, DARK, AMERICAN])
@pytest.mark.parametrize("kind", fakes.KINDS)
def test_plotly_takes_every_part_of_what_is_to_come_of_a_bed_in_any_state(kind: str, reader: object) -> None:
    past = with_ahead(kind)
    for draw in (*DRAWINGS.values(), depth_time_ahead):
        figure = draw(past, reader)
        if figure is not None:
            go.Figure(figure)
            json.dumps(figure, allow_nan=False)
    for find in FINDINGS.values():
        finding = find(past, reader)
        assert finding.heading
        assert "nan" not in f"{finding.heading} {finding.note}".lower().split()


@pytest.mark.parametrize(("days", "ahead_days"), [(3, 3), (7, 7), (30, 7)])
def test_short_views_look_as_far_ahead_as_back_and_longer_ones_a_week(days: int, ahead_days: int) -> None:
    for draw in (DRAWINGS["temperatures"], DRAWINGS["water"], depth_time_ahead):
        figure = draw(with_ahead(days=days), READER)
        assert figure is not None
        end_ms = figure["layout"]["xaxis"]["range"][1]
        assert NOW_MS + ahead_days * DAY_MS - HOUR_MS <= end_ms <= NOW_MS + ahead_days * DAY_MS


def test_a_year_does_not_look_ahead() -> None:
    past = year(outlook=fakes.outlook(fakes.bed_view("fine")))

    assert temperatures(past, READER)["layout"]["xaxis"]["range"] == [past.from_ms, NOW_MS]
    assert depth_time_ahead(past, READER) is None
    assert "No look ahead" not in temperatures_finding(past, READER).note


def test_where_nothing_is_expected_the_charts_end_now_and_say_why() -> None:
    reasons = ("three days of readings are wanted, there are two",)
    silent = with_ahead(changes={"temperature": None, "water": None, "why_not": reasons})
    for name, draw in DRAWINGS.items():
        assert draw(silent, READER)["layout"]["xaxis"]["range"] == [silent.from_ms, NOW_MS], name
    for name in ("temperatures", "water"):
        assert FINDINGS[name](silent, READER).note.endswith(f"No look ahead: {reasons[0]}.")
        assert "a bed with some days of readings" in FINDINGS[name](history("due"), READER).note


def test_midnights_and_their_names_run_on() -> None:
    figure = temperatures(with_ahead(), READER)

    assert [name.split("<br>")[0] for name in figure["layout"]["xaxis"]["ticktext"]] == ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri"]


# ---------------------------------------------------------------- temperatures


def test_the_cloves_run_on_dashed_with_their_band_and_hollow_with_the_cloth() -> None:
    figure = temperatures(with_ahead(), READER)

    assert trace(figure, "cloves ahead")["line"]["dash"] == "10px,5px"
    edges = [each["line"] for each in figure["data"] if each["name"] == "with the cloth"]
    assert [edge["width"] for edge in edges] == [5.0, 2.6]
    assert edges[0]["color"] != edges[1]["color"]
    band = trace(figure, "4 times in 5")
    assert (band["opacity"], band["fillcolor"]) == (0.16, READER.tokens.ink)
    assert "with the<br>50 % cloth" in texts(figure)


def test_the_line_to_come_begins_where_the_known_one_ends() -> None:
    figure = temperatures(with_ahead(), READER)
    known, to_come = trace(figure, "cloves"), trace(figure, "cloves ahead")

    assert (to_come["x"][0], to_come["y"][0]) == (known["x"][-1], known["y"][-1])
    assert to_come["x"][1] > NOW_MS


def test_after_a_longer_silence_the_line_to_come_stands_apart() -> None:
    past = with_ahead()
    gone = past.grid_ms > NOW_MS - 2 * HOUR_MS
    figure = temperatures(replace(past, cloves_c=np.where(gone, np.nan, past.cloves_c)), READER)

    assert trace(figure, "cloves ahead")["x"][0] > NOW_MS


def test_the_axis_holds_the_band_and_the_line_with_the_cloth() -> None:
    past = with_ahead(warmer_k=2.0)
    low, high = temperatures(past, READER)["layout"]["yaxis"]["range"]
    shown = part(past).time_ms <= NOW_MS + 3 * DAY_MS

    assert high > part(past).high_c[shown].max()
    assert low < part(past).low_c[shown].min()


def test_what_would_be_over_the_limit_is_hatched_too() -> None:
    past = with_ahead(warmer_k=1.0)
    hatched = [x for x in trace(temperatures(past, READER), "over your limit")["x"] if x is not None]

    assert max(hatched) > NOW_MS + 2 * DAY_MS


def test_only_the_outer_thermometers_are_drawn_where_the_cloves_run_on() -> None:
    names = {each["name"] for each in temperatures(with_ahead(), READER)["data"]}

    assert {"5 cm", "30 cm"} <= names
    assert not {"10 cm", "20 cm"} & names


def test_a_tap_ahead_tells_the_band_and_the_cloth() -> None:
    plates = trace(temperatures(with_ahead(), READER), "plates")
    last = plates["text"][-1]

    assert plates["x"][-1] > NOW_MS + 2 * DAY_MS
    assert "cloves would be at" in last
    assert "4 times in 5 from" in last
    assert "with the 50 % cloth" in last


HOURS = (NOW_MS // HOUR_MS + 1 + np.arange(168, dtype=np.int64)) * HOUR_MS
AFTER_DAYS = (HOURS - NOW_MS) / DAY_MS


@pytest.mark.parametrize(
    ("mean_c", "with_cloth_mean_c", "heading"),
    [
        (17.0 + 0.6 * AFTER_DAYS, None, "The day's mean at the cloves would pass 18 °C on Thursday."),
        (17.0 + 0.6 * AFTER_DAYS, 17.0 + 0 * AFTER_DAYS, "…on Thursday. With the 50 % cloth it would not."),
        (17.0 + 0.6 * AFTER_DAYS, 17.0 + 0.38 * AFTER_DAYS, "…on Thursday. With the 50 % cloth only on Friday."),
        (17.0 + 0.1 * AFTER_DAYS, None, "The cloves stayed under 18 °C, and would for the next 3 days."),
        (18.4 + 0.1 * AFTER_DAYS, None, "The day's mean at the cloves is over 18 °C, and would stay so for the next 3 days."),
        (18.4 - 0.3 * AFTER_DAYS, None, "The day's mean at the cloves is over 18 °C and would be under it again on Thursday."),
        (18.4 + 0 * AFTER_DAYS, 18.4 - 0.5 * AFTER_DAYS, "…3 days. With the 50 % cloth it would be under it tomorrow."),
    ],
)
def test_the_heading_goes_by_the_mean_of_a_day_as_the_rule_does(
    mean_c: np.ndarray, with_cloth_mean_c: np.ndarray | None, heading: str
) -> None:
    flat = np.full(168, 17.0)
    expected = {"time_ms": HOURS, "cloves_c": flat, "mean_c": mean_c, "with_cloth_mean_c": with_cloth_mean_c}
    past = changed(with_ahead(), **expected)
    over = mean_c[0] > 18
    past = replace(past, cloves_c=np.full(past.grid_ms.size, 18.4 if over else 17.0))

    said = temperatures_finding(past, READER).heading

    assert said.endswith(heading.removeprefix("…"))


def test_a_line_that_is_over_the_limit_for_hours_only_is_told_so() -> None:
    past = changed(with_ahead(), mean_c=np.full(168, 17.4), with_cloth_mean_c=None, cloves_c=17.4 + np.sin(np.arange(168) / 3.8))

    assert (
        temperatures_finding(past, READER).heading == "The cloves would pass 18 °C for some hours, but not on the mean of a day."
    )


def test_how_long_the_cloves_have_been_over_the_limit_is_told_by_the_mean_of_a_day() -> None:
    past = changed(with_ahead(), mean_c=np.full(168, 18.5), with_cloth_mean_c=None)
    step = np.where(past.grid_ms < NOW_MS - 40 * HOUR_MS, 17.0, 19.0)

    # 23 hours of 24 under: the mean of a day passes 18 °C about 12 hours after the step of Monday 1:40
    heading = temperatures_finding(replace(past, cloves_c=step), READER).heading
    assert heading == "The day's mean at the cloves has been over 18 °C since yesterday, and would stay so for the next 3 days."


def test_the_note_says_whose_weather_it_was_or_that_it_was_nobodys() -> None:
    assert temperatures_finding(with_ahead(), READER).note.endswith("Weather: a public forecast.")
    assert "Weather: a public forecast." in water_finding(with_ahead("fine"), READER, REFILL_MM).note
    alone = temperatures_finding(with_ahead(changes={"weather": None}), READER).note
    assert alone.endswith("Worked out from the last days and the sun, so the band is wider.")


def test_without_a_cloth_none_is_drawn_or_named() -> None:
    past = with_ahead(cloth_k=None)

    assert not [each for each in temperatures(past, READER)["data"] if each["name"] == "with the cloth"]
    finding = temperatures_finding(past, READER)
    assert "cloth" not in finding.heading + finding.note


# ---------------------------------------------------------------- the whole profile


def test_the_ground_ahead_is_that_of_the_forecast_between_its_depths_and_blank_far_beyond_them() -> None:
    past = with_ahead()
    ground = ground_ahead(past)
    assert ground is not None
    told = part(past)
    at = int(np.flatnonzero(told.time_ms == ground.time_ms[-1])[0])

    np.testing.assert_allclose(ground.profile_c[-1, [5, 10, 12, 20, 30]], told.profile_c[at])
    assert ground.profile_c[-1, 15] == pytest.approx(told.profile_c[at, 2:4] @ [5 / 8, 3 / 8])
    assert ground.profile_c[-1, 35] == told.profile_c[at, -1]  # 5 cm below the deepest
    assert np.isnan(ground.profile_c[-1, 36:]).all()


def test_the_ground_ahead_begins_with_what_is_known_now() -> None:
    past = with_ahead()
    ground = ground_ahead(past)
    assert ground is not None
    last = int(np.flatnonzero(np.isfinite(past.profile_c[:, 12]))[-1])

    assert ground.time_ms[0] == past.grid_ms[last]
    np.testing.assert_array_equal(ground.profile_c[0, :36], past.profile_c[last, :36])


def test_the_cool_line_is_dashed_where_it_is_to_come_and_solid_where_it_was() -> None:
    past = with_ahead(warmer_k=0.5)
    was, to_come = depth_time(past, READER), depth_time_ahead(past, READER)
    assert to_come is not None
    for figure, dash in ((was, None), (to_come, "10px,5px")):
        pen = [each for each in figure["data"] if each["name"] == "cool line"][-1]
        assert pen["line"].get("dash") == dash
    assert to_come["layout"]["xaxis"]["range"][0] == was["layout"]["xaxis"]["range"][1] == NOW_MS


def test_the_passing_of_the_cloves_is_marked_with_its_time_and_hatched_below_them() -> None:
    figure = depth_time_ahead(with_ahead(warmer_k=0.5), READER)
    assert figure is not None

    (plate,) = [text for text in texts(figure) if text.startswith("reaches the cloves")]
    assert plate.split("<br>")[1].split()[0] in {"Wed", "Thu", "Fri"}
    depths_m = [y for y in trace(figure, "warm below the cloves")["y"] if y is not None]
    assert min(depths_m) == 0.12
    assert max(depths_m) > 0.15


LINEAR_M = np.array([0.05, 0.10, 0.20, 0.30])


@pytest.mark.parametrize(
    ("was_c", "to_come_c", "heading"),
    [
        ([17, 16, 15, 14], [17, 16, 15, 14], "All the soil stayed under 18 °C, and would for the next 3 days."),
        ([17, 16, 15, 14], [20, 16, 15, 14], "The cool line would sink to 8 cm today; the cloves lie at 12."),
        ([17, 16, 15, 14], [20, 19, 18.5, 14], "The cool line would reach the cloves this evening."),
        ([20, 19, 18.5, 14], [20, 19, 18.5, 14], "The cool line is below the cloves, and would be for the next 3 days."),
    ],
)
def test_the_heading_of_the_ground_covers_the_days_ahead(was_c: list[float], to_come_c: list[float], heading: str) -> None:
    past = with_ahead("fine")
    was = np.interp(past.grid_depths_m, LINEAR_M, was_c)
    past = changed(past, depths_m=LINEAR_M, profile_c=np.tile(to_come_c, (168, 1)).astype(float))

    finding = depth_time_finding(replace(past, profile_c=np.tile(was, (past.grid_ms.size, 1))), READER)

    assert finding.heading == heading
    assert "Dashed: to come" in finding.note


def test_hours_above_the_cloves_are_not_passed_over_in_the_heading() -> None:
    past = with_ahead("fine")
    warm_c, cool_c = ([20.0, 19.0, 18.5, 14.0], [17.0, 16.0, 15.0, 14.0])
    profile_c = np.array([cool_c if 20 < hour < 30 else warm_c for hour in range(168)])
    past = changed(past, depths_m=LINEAR_M, profile_c=profile_c)
    was = np.tile(np.interp(past.grid_depths_m, LINEAR_M, warm_c), (past.grid_ms.size, 1))

    heading = depth_time_finding(replace(past, profile_c=was), READER).heading

    assert heading == "The cool line is below the cloves, and would be above them for some hours only."


# ---------------------------------------------------------------- water


def test_water_runs_on_dashed_with_its_band_half_as_strong() -> None:
    figure = water(with_ahead("fine"), READER, REFILL_MM)

    assert trace(figure, "short of full ahead")["line"]["dash"] == "10px,5px"
    assert trace(figure, "water ahead")["opacity"] == 0.5
    assert trace(figure, "4 times in 5")["x"]


def test_the_refill_line_runs_on_as_it_would_be() -> None:
    past = with_ahead("fine")
    assert past.outlook is not None
    assert past.outlook.water is not None
    falling = replace(past.outlook.water, refill_mm=np.linspace(10.8, 7.0, 168))
    figure = water(replace(past, outlook=replace(past.outlook, water=falling)), READER, REFILL_MM)

    (_, pen) = [each for each in figure["data"] if each["name"] == "limit"]
    assert pen["y"][:2] == [10.8, 10.8]
    assert pen["x"][1] == NOW_MS
    assert pen["y"][-1] < 9.5


def test_an_outlined_triangle_stands_where_the_refill_line_would_be_reached_with_its_litres() -> None:
    past = with_ahead("fine", refill_mm=12.0)
    assert past.outlook is not None
    assert past.outlook.water is not None
    figure = water(past, READER, 12.0)
    mark = trace(figure, "watering to come")

    assert mark["x"] == [past.outlook.water.refill_ms]
    assert mark["marker"]["symbol"] == "triangle-down-open"
    # 12 litres per square metre on 7.2 square metres
    assert "86 litres by<br>tonight" in texts(figure)
    untold = replace(past, bed=replace(past.bed, area_m2=float("nan")))
    assert "would reach the refill line<br>tonight" in texts(water(untold, READER, 12.0))


def test_the_heading_says_when_the_roots_would_reach_the_refill_line() -> None:
    finding = water_finding(with_ahead("fine", refill_mm=12.0), READER, 12.0)

    assert finding.heading == "The roots would reach the refill line tonight."
    assert "between tonight and tomorrow morning" in finding.note
    wet = with_ahead("fine", refill_mm=60.0)
    assert water_finding(wet, READER, 60.0).heading == "The roots are well, and would be for the next 3 days."


def test_a_bed_that_is_past_the_refill_line_is_not_told_when_it_would_reach_it() -> None:
    past = with_ahead("fine", refill_mm=12.0)
    assert past.outlook is not None
    assert past.outlook.water is not None
    reached = replace(past, outlook=replace(past.outlook, water=replace(past.outlook.water, refill_ms=NOW_MS - HOUR_MS)))

    assert not [each for each in water(reached, READER, 12.0)["data"] if each["name"] == "watering to come"]
    finding = water_finding(reached, READER, 12.0)
    assert finding.heading == "The roots are at the refill line."
    assert "between" not in finding.note


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        *((1, "this evening"), (6, "tonight"), (10, "tonight"), (17, "tomorrow morning"), (19, "tomorrow at noon")),
        *((70, "Friday afternoon"), (6 * 24 + 3, "Monday evening"), (7 * 24, "20 April afternoon"), (82, "Friday night")),
    ],
)
def test_a_time_to_come_is_told_as_a_grower_would(hours: int, words: str) -> None:
    assert READER.moment(NOW_MS + hours * HOUR_MS, NOW_MS) == words


def test_the_small_hours_of_this_night_are_tonight_also_after_midnight() -> None:
    half_past_one = NOW_MS + 8 * HOUR_MS - 10 * MINUTE_MS

    assert READER.moment(half_past_one + HOUR_MS, half_past_one) == "tonight"
    assert READER.moment(half_past_one + 25 * HOUR_MS, half_past_one) == "tonight"


def test_a_late_outlook_is_joined_all_the_same() -> None:
    past = with_ahead()
    older = changed(past, time_ms=part(past).time_ms - 2 * HOUR_MS)
    figure = temperatures(older, READER)

    x = [at for at in trace(figure, "cloves ahead")["x"] if at is not None]
    assert x == sorted(x)
    assert x[1] > NOW_MS > x[0] >= NOW_MS - 60 * MINUTE_MS
