"""The picture of the whole profile through time."""

from dataclasses import replace

import numpy as np
import pytest

from dashboard.figures.depth_time import deepest_over_m, depth_time
from dashboard.figures.depth_words import depth_time_finding
from tests.dashboard import fakes
from tests.dashboard.charts import READER, history, texts, trace
from tests.dashboard.fakes import DAY_MS, HOUR_MS, NOW_MS


def test_what_is_not_known_is_not_painted() -> None:
    past = history()
    hole = slice(100, 160)
    past.profile_c[hole] = np.nan
    field = trace(depth_time(past, READER), "soil")

    known = dict(zip(past.grid_ms.tolist(), np.isfinite(past.profile_c[:, 10]).tolist(), strict=True))
    painted = {x: field["z"][5][place] is not None for place, x in enumerate(field["x"])}

    assert len(painted) > 200
    # a column stands for two steps of ten minutes, the later of which is its time
    assert painted == {x: known[x] and known[x - 600_000] for x in painted}
    assert not all(painted.values())


def test_thinning_a_long_span_paints_no_column_that_is_half_unknown() -> None:
    month = fakes.history(fakes.bed_view("fine"), NOW_MS - 30 * DAY_MS, NOW_MS)
    month.profile_c[2000] = np.nan
    field = trace(depth_time(month, READER), "soil")

    assert len(field["x"]) <= 450
    blank = [x for place, x in enumerate(field["x"]) if field["z"][5][place] is None]
    assert abs(blank[0] - int(month.grid_ms[2000])) < 2 * HOUR_MS
    assert len(blank) <= 2  # that one, and the newest where its last hour is not heard yet


def test_the_colours_turn_at_the_limit_of_the_bed() -> None:
    field = trace(depth_time(history(), READER), "soil")

    assert (field["zmin"], field["zmax"]) == (60.0, 320.0)  # tenths of a degree
    at_limit = [colour for share, colour in field["colorscale"] if share == pytest.approx(12 / 26)]
    assert at_limit == ["#6e5885", "#f2e1ab"]


def test_the_cool_line_is_drawn_twice_at_the_limit_and_only_where_there_is_one() -> None:
    past = history()
    lines = [each for each in depth_time(past, READER)["data"] if each["name"] == "cool line"]

    assert [line["line"]["width"] for line in lines] == [7.0, 3.2]
    points = [(x, y) for x, y in zip(lines[0]["x"], lines[0]["y"], strict=True) if x is not None]
    assert len(points) > 50
    for x, y in points:
        at_depth = [np.interp(x, past.grid_ms, column) for column in past.profile_c.T]
        assert np.interp(y, past.grid_depths_m, at_depth) == pytest.approx(18.0, abs=0.05)
    assert not [each for each in depth_time(history("no_limit"), READER)["data"] if each["name"] == "cool line"]


def test_the_reach_of_warmth_lies_between_the_two_depths_of_the_grid() -> None:
    profile_c = np.array([[20.0, 19.0, 17.0], [17.0, 16.0, 15.0], [20.0, 19.0, 18.5], [np.nan, 19.0, np.nan], [17.0, 19.0, 16.0]])

    reach_m = deepest_over_m(profile_c, np.array([0.0, 0.1, 0.2]), 18.0)

    np.testing.assert_allclose(reach_m, [0.15, np.nan, 0.2, 0.1, 0.1 + 0.1 / 3])


@pytest.mark.parametrize(
    ("yesterday_c", "today_c", "heading"),
    [
        ([17.0, 16.0, 15.0], [17.9, 16.0, 15.0], "All the soil stayed under 18 °C."),
        ([19.0, 17.0, 15.0], [17.0, 16.0, 15.0], "The cool line sank to 5 cm yesterday; the cloves lie at 12."),
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


def test_gaps_are_told_with_whatever_was_found() -> None:
    def heading(*profile_c: list[float]) -> str:
        days = np.array([NOW_MS - DAY_MS * back for back in reversed(range(len(profile_c)))], dtype=np.int64)
        past = history(grid_ms=days, grid_depths_m=np.array([0.0, 0.1, 0.2]), profile_c=np.array(profile_c))
        return depth_time_finding(past, READER).heading

    gap, warm, half_warm = [np.nan] * 3, [20.0, 19.0, 15.0], [19.0, 17.0, 15.0]
    assert heading(gap, warm) == "The cool line passed the cloves today, as far as is known."
    assert heading(gap, half_warm) == "The cool line sank to 5 cm today, as far as is known; the cloves lie at 12."


def test_a_lone_thermometer_tells_of_its_own_depth_and_no_more() -> None:
    depths_m = np.arange(0, 0.46, 0.01)
    (probe, series) = history("one_probe").temperatures[0]
    deep = replace(probe, depth_m=0.40)
    reached = np.where(depths_m >= 0.349, 1.0, np.nan)

    def heading(*values_c: float) -> str:
        days = np.array([NOW_MS - DAY_MS * back for back in reversed(range(len(values_c)))], dtype=np.int64)
        profile_c = np.array([value_c * reached for value_c in values_c])
        past = history("one_probe", grid_ms=days, grid_depths_m=depths_m, profile_c=profile_c, temperatures=((deep, series),))
        return depth_time_finding(past, READER).heading

    assert heading(16.0, 17.0) == "At 40 cm the soil stayed under 18 °C."
    assert heading(16.0, np.nan) == "At 40 cm the soil stayed under 18 °C, as far as is known."
    assert heading(19.0, 17.0) == "At 40 cm the soil was over 18 °C yesterday."
    assert heading(19.0, 18.5) == "At 40 cm the soil stayed over 18 °C."


def test_soil_above_the_reach_of_the_thermometers_is_not_spoken_for() -> None:
    past = history()
    profile_c = np.where(past.grid_depths_m >= 0.039, 16.0, np.nan) * np.ones((past.grid_ms.size, 1))

    assert depth_time_finding(replace(past, profile_c=profile_c), READER).heading == (
        "All the soil from 4 to 40 cm stayed under 18 °C."
    )


def test_covers_are_shown_where_the_profile_reaches_into_them() -> None:
    past = history("due")
    depths_m = np.arange(-0.14, 0.301, 0.01)
    high = replace(past, grid_depths_m=depths_m, profile_c=np.full((past.grid_ms.size, depths_m.size), 17.0))

    assert {"compost", "straw"} <= set(texts(depth_time(high, READER)))
    assert not {"compost", "straw"} & set(texts(depth_time(past, READER)))
