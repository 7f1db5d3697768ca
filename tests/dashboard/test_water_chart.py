"""The chart of water between full and the refill line."""

import numpy as np
import pytest

from collector.model import Series
from dashboard.figures.water import water
from dashboard.figures.water_words import water_finding
from tests.dashboard.charts import AMERICAN, READER, REFILL_MM, history, texts, trace
from tests.dashboard.fakes import DAY_MS, HOUR_MS, NOW_MS


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
        ([7.0, 9.0, 10.8, 12.0], "The roots ran short of water yesterday."),
        ([11.0, 11.5, 12.0, 13.0], "The roots were short of water all this time."),
    ],
)
def test_the_heading_says_how_the_roots_stand(depletion_mm: list[float], heading: str) -> None:
    days = np.array([NOW_MS - day * DAY_MS for day in (3, 2, 1, 0)], dtype=np.int64)
    past = history(grid_ms=days, depletion_mm=np.array(depletion_mm))

    assert water_finding(past, READER, REFILL_MM).heading == heading


def test_after_a_silence_the_heading_says_what_the_probes_said_last_and_when() -> None:
    past = history()
    gone_ms = NOW_MS - 5 * HOUR_MS
    cut = [
        (probe, Series(one.probe_id, *(each[one.time_ms <= gone_ms] for each in (one.time_ms, one.value, one.flags))))
        for probe, one in past.moistures
    ]
    short_mm = np.where(past.grid_ms < gone_ms, 4.0, np.nan)
    finding = water_finding(history(moistures=tuple(cut), depletion_mm=short_mm), READER, REFILL_MM)

    assert finding.heading == "Last heard Tue 12:40: then 4 litres per m² short of full."


def test_the_note_says_what_a_unit_of_the_chart_is_on_the_whole_bed() -> None:
    # 1 mm on 7.2 m² is 7.2 litres; 0.1 in on it are 2.54 * 7.2 / 3.785411784 = 4.83 gallons (definitions of inch and gallon)
    assert "On this bed of 7.2 m², 1 litre per m² is 7 litres." in water_finding(history(), READER, REFILL_MM).note
    assert "On this bed of 78 ft², a tenth of an inch is 5 gallons." in water_finding(history(), AMERICAN, REFILL_MM).note


def test_american_growers_read_inches_of_water() -> None:
    past = history(depletion_mm=np.full(history().grid_ms.size, 5.72))
    finding = water_finding(past, AMERICAN, REFILL_MM)

    assert finding.heading == "The roots are well, 0.20 in from the refill line."
    assert "Inches of water" in finding.note
    ticks = water(past, AMERICAN, REFILL_MM)["layout"]["yaxis"]
    assert [mm / 25.4 for mm in ticks["tickvals"]] == pytest.approx([float(text) for text in ticks["ticktext"]])
