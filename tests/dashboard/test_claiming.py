"""Addresses that no probe has, on the page of stakes: what they say, where they may be given to, which one is in the hand."""

from typing import Any

import dash
import pytest

from collector.model import Probe, Unclaimed
from collector.units import Quantity, UnitSystem
from dashboard import ids
from dashboard.components import claiming, probe_words
from dashboard.pages import stakes
from tests.dashboard import fakes
from tests.dashboard.fakes import NOW_MS, FakeQueries

ADDRESS = "urn:dev:ow:28a1<b>"


def found(value: float = 17.31, unit: str | None = "Cel", age_ms: int = 60_000) -> Unclaimed:
    return Unclaimed(ADDRESS, unit, NOW_MS - age_ms, value, NOW_MS - age_ms, "mqtt 127.0.0.1:1883")


@pytest.fixture
def queries() -> FakeQueries:
    made = fakes.one_bed("fine")
    made.found = [found()]
    return made


def page(queries: FakeQueries) -> str:
    return str(stakes.layout(queries))


def test_an_address_that_no_probe_has_is_shown_with_its_last_number_in_the_growers_unit(queries: FakeQueries) -> None:
    for said in ("Not claimed yet", ADDRESS, "17.3 °C", "Heard 17:39 by mqtt 127.0.0.1:1883", "Claim it"):
        assert said in page(queries)
    queries.found = []
    assert "Not claimed yet" not in page(queries)


def test_each_place_that_is_free_is_a_tap_with_its_reason(queries: FakeQueries) -> None:
    shown = page(queries)
    # the bed has thermometers at 5, 10, 20 and 30 cm: the cloves have none
    assert "12 cm down, soil temperature" in shown
    assert "Where the bulbs form." in shown
    assert "30 cm down, soil temperature" not in shown.split("Claim it")[1].split("by eye")[0]
    assert "Air temperature" in shown
    assert "There in the " in shown


@pytest.mark.parametrize(
    ("unit", "told"),
    [("lx", "It speaks in lx, which nothing that is measured here has."), (None, "25 cm down, soil moisture"), ("V", "Battery")],
)
def test_what_it_may_be_goes_by_its_unit(queries: FakeQueries, unit: str | None, told: str) -> None:
    queries.shown = fakes.garden_view([fakes.bed_view("never")])
    queries.found = [found(3.0, unit)]
    if told.startswith("25 cm"):
        told = "10 cm down, soil moisture"
    assert told in page(queries)


def tapped(at: str, what: Quantity = Quantity.SOIL_TEMPERATURE) -> dict[str, Any]:
    return ids.claim(ADDRESS, "fine", what.value, at)


def test_a_tap_claims_and_leads_to_the_page_that_says_so(queries: FakeQueries) -> None:
    href, said = claiming.heed(queries, tapped("0.12"), 1, {})
    assert queries.added == [Probe("fine-t12", "fine", Quantity.SOIL_TEMPERATURE, ADDRESS, 0.12)]
    assert (href, said) == ("/stakes?claimed=fine-t12", dash.no_update)


@pytest.mark.parametrize(("typed", "units", "depth_m"), [("7,5", UnitSystem.METRIC, 0.075), (" 6 ", UnitSystem.US, 0.1524)])
def test_a_depth_may_be_typed(queries: FakeQueries, typed: str, units: UnitSystem, depth_m: float) -> None:
    queries.shown = fakes.garden_view([fakes.bed_view("fine")], units=units)
    claiming.heed(queries, tapped("typed"), 1, {ADDRESS: typed})
    (probe,) = queries.added
    assert probe.depth_m == pytest.approx(depth_m)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("", "Want a number of cm below the soil, got nothing"),
        ("deep", "got deep"),
        ("900", "900 cm is no depth"),
        ("nan", "no depth"),
    ],
)
def test_a_depth_that_is_none_is_told_and_nothing_is_claimed(queries: FakeQueries, typed: str, told: str) -> None:
    href, said = claiming.heed(queries, tapped("typed"), 1, {ADDRESS: typed})
    assert (href, queries.added) == (dash.no_update, [])
    assert told in str(said)


def test_what_has_no_depth_is_claimed_without_one(queries: FakeQueries) -> None:
    claiming.heed(queries, tapped("", Quantity.AIR_TEMPERATURE), 1, {})
    assert [probe.depth_m for probe in queries.added] == [None]


def test_where_the_file_cannot_be_changed_the_lines_are_told(queries: FakeQueries) -> None:
    queries.keeper = None
    href, said = claiming.heed(queries, tapped("0.12"), 1, {})
    assert href is dash.no_update
    assert "write the probe into it" in str(said)


@pytest.mark.parametrize(("button", "taps"), [(None, 1), ({"type": "claim"}, None), ({"type": "claim"}, 0)])
def test_a_button_that_appears_claims_nothing(queries: FakeQueries, button: Any, taps: Any) -> None:
    with pytest.raises(dash.exceptions.PreventUpdate):
        claiming.heed(queries, button, taps, {})


def test_only_the_number_that_moved_travels(queries: FakeQueries) -> None:
    shown = [ids.stranger_now(ADDRESS)]
    seen = claiming.update(queries, {}, shown)[2]
    with pytest.raises(dash.exceptions.PreventUpdate):
        claiming.update(queries, seen, shown)
    queries.found = [found(18.4)]
    whole, numbers, _ = claiming.update(queries, seen, shown)
    assert whole is dash.no_update
    assert "18.4 °C" in str(numbers)
    queries.found = []
    whole, numbers, _ = claiming.update(queries, seen, shown)
    assert (whole, numbers) == ([], [dash.no_update])


def test_the_one_in_the_hand_is_named(queries: FakeQueries) -> None:
    garden = queries.garden()
    assert "I hold one now" in str(claiming.hand(queries, garden.garden, NOW_MS, None))
    queries.found = [found(17.3, age_ms=120_000), found(19.6, age_ms=0)]
    held = str(claiming.hand(queries, garden.garden, NOW_MS, NOW_MS - 90_000))
    for said in (f"It is {ADDRESS}", "not claimed yet", "+2.3 °C", "19.6 °C at 17:40", "Let go", "#urn_3Adev"):
        assert said in held
    queries.found = queries.found[:1]
    assert "none has moved much further" in str(claiming.hand(queries, garden.garden, NOW_MS, NOW_MS - 90_000))


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
    assert probe_words.value(quantity, value, UnitSystem.METRIC) == metric
    assert probe_words.value(quantity, value, UnitSystem.US) == american


def test_every_quantity_has_its_word() -> None:
    for quantity in Quantity:
        assert probe_words.value(quantity, 1.0, UnitSystem.METRIC)
        assert probe_words.what_words(quantity)
