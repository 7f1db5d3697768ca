"""Stakes: what each probe said last, how long it is silent, and who speaks without being known."""

from dataclasses import replace

import pytest

from collector.model import Unclaimed
from collector.query import Heard, ProbeView
from collector.units import Quantity, UnitSystem
from dashboard.pages import stakes
from tests.dashboard import fakes
from tests.dashboard.fakes import NOW_MS, FakeQueries


def words(queries: FakeQueries) -> str:
    return str(stakes.layout(queries))


def probes(*heard: Heard, fault: str | None = None) -> list[ProbeView]:
    (first, *_) = fakes.bed_view("fine").probes
    return [replace(first, heard=each, fault=fault) for each in heard]


@pytest.mark.parametrize(
    ("seen", "heading"),
    [
        ([], "No probes yet."),
        (probes(Heard.FRESH), "The one probe speaks."),
        (probes(Heard.FRESH, Heard.LATE), "All 2 probes speak."),
        (probes(Heard.FRESH, Heard.SILENT, Heard.NEVER), "Probes: 2 of 3 silent."),
        (probes(Heard.FRESH, fault="Stuck at 85 °C."), "Probes: 1 of 1 with a fault."),
        (probes(Heard.FRESH, Heard.BEHIND, Heard.BEHIND), "Probes: 2 of 3 catching up."),
        (probes(Heard.SILENT) + probes(Heard.FRESH, fault="Jumped."), "Probes: 1 of 2 silent, 1 of 2 with a fault."),
    ],
)
def test_the_heading_sums_the_probes_up(seen: list[ProbeView], heading: str) -> None:
    assert stakes.heading(seen) == heading


def test_a_probe_shows_its_depth_its_number_and_when_it_was_heard() -> None:
    page = words(fakes.one_bed("fine"))

    for said in (
        "5 cm down, soil temperature",
        "18.1 °C",
        "Heard 17:38. fine-t5",
        "15 cm down, soil moisture",
        "21 % by volume",
    ):
        assert said in page


def test_the_old_number_of_a_silent_probe_does_not_stand_where_a_new_one_would() -> None:
    page = words(fakes.one_bed("silent"))

    assert "Silent since yesterday 19:05, when it said 18.3 °C" in page
    assert "Span(children='18.3 °C'" not in page
    assert "not known" in page


def test_a_probe_that_never_spoke_shows_the_address_it_is_waited_for_from() -> None:
    assert "Nothing heard yet from urn:dev:ow:never-t5" in words(fakes.one_bed("never"))


def test_a_late_probe_says_when_it_was_last_heard() -> None:
    assert "Late: last heard 13:40" in words(fakes.one_bed("late"))


def test_a_probe_that_catches_up_is_not_called_silent_and_shows_no_number():
    page = words(fakes.one_bed("behind"))

    assert "Catching up: up to 3 April 17:40 its readings are in" in page
    assert "Silent since" not in page
    assert "Span(children='18.3 °C'" not in page


def test_a_fault_stands_in_words() -> None:
    bed = fakes.bed_view("fine")
    faulty = replace(bed, probes=(replace(bed.probes[0], fault="It says 85 °C, as a thermometer that lost power does."),))

    assert "as a thermometer that lost power does." in words(FakeQueries(fakes.garden_view([faulty])))


def test_an_address_that_no_probe_has_is_shown_with_its_last_number() -> None:
    queries = fakes.one_bed("fine")
    assert "Not in the garden file" not in words(queries)
    queries.found = [Unclaimed("urn:dev:ow:28a1<b>", "Cel", NOW_MS, 17.31, NOW_MS - 60_000, "mqtt 127.0.0.1:1883")]
    page = words(queries)

    for said in ("Not in the garden file", "urn:dev:ow:28a1<b>", "17.31 Cel", "Heard 17:39 by mqtt 127.0.0.1:1883"):
        assert said in page


@pytest.mark.parametrize(
    ("quantity", "value", "metric", "american"),
    [
        (Quantity.SOIL_TEMPERATURE, 17.44, "17.4 °C", "63.4 °F"),
        (Quantity.AIR_TEMPERATURE, -0.5, "-0.5 °C", "31.1 °F"),
        (Quantity.SOIL_MOISTURE, 0.214, "21 % by volume", "21 % by volume"),
        (Quantity.RELATIVE_HUMIDITY, 63.4, "63 %", "63 %"),
        (Quantity.SOLAR_IRRADIANCE, 812.3, "812 W/m²", "812 W/m²"),
        (Quantity.WIND_SPEED, 3.21, "3.2 m/s", "7 mph"),
        (Quantity.RAIN, 12.7, "12.7 mm", "0.50 in"),
        (Quantity.BATTERY, 3.076, "3.08 V", "3.08 V"),
    ],
)
def test_each_quantity_is_written_with_its_unit(quantity: Quantity, value: float, metric: str, american: str) -> None:
    assert stakes.value_words(quantity, value, UnitSystem.METRIC) == metric
    assert stakes.value_words(quantity, value, UnitSystem.US) == american


def test_every_quantity_has_its_word() -> None:
    for quantity in Quantity:
        assert stakes.value_words(quantity, 1.0, UnitSystem.METRIC)
        assert quantity in stakes.QUANTITY_WORDS
