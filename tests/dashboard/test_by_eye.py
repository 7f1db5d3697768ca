"""A reading taken by eye: entered in the grower's unit, kept, and asked about where it is odd."""

import dash
import pytest

from collector.model import Flag
from collector.units import UnitSystem
from dashboard.components import by_eye
from dashboard.pages import stakes
from tests.dashboard import fakes


@pytest.fixture
def queries():
    return fakes.one_bed("fine")


@pytest.mark.parametrize(
    ("units", "probe_id", "text", "value", "said"),
    [
        (UnitSystem.METRIC, "fine-t10", "17,5", 17.5, "Kept: 10 cm down, soil temperature, 17.5 °C."),
        (UnitSystem.US, "fine-t10", "63.5", 17.5, "Kept: 4 in down, soil temperature, 63.5 °F."),
        (UnitSystem.METRIC, "fine-m15", " 21 ", 0.21, "Kept: 15 cm down, soil moisture, 21 % by volume."),
    ],
)
def test_it_is_kept_in_the_unit_inside_and_said_back(queries, units, probe_id, text, value, said):
    queries.shown = fakes.garden_view([fakes.bed_view("fine")], units=units)
    assert by_eye.heed(queries, probe_id, text) == (said, "")
    (kept,) = queries.entered
    assert (kept.probe_id, kept.value, kept.measured_ms, kept.flags) == (
        probe_id,
        pytest.approx(value),
        fakes.NOW_MS,
        Flag.AS_TOLD,
    )


@pytest.mark.parametrize(
    ("probe_id", "text", "said"),
    [
        ("fine-t10", "", "Want a number, got nothing"),
        ("fine-t10", "warm", "got warm"),
        ("fine-t10", "5000", "5000 Cel is no soil_temperature"),
        ("fine-t10", "nan", "nan Cel is no soil_temperature"),
        ("gone", "17", "no longer in the garden file"),
    ],
)
def test_what_cannot_be_is_told_and_what_was_typed_stays(queries, probe_id, text, said):
    told, field = by_eye.heed(queries, probe_id, text)
    assert said in told
    assert field is dash.no_update
    assert queries.entered == []


def test_what_is_odd_is_kept_marked_and_asked_about(queries):
    said, _ = by_eye.heed(queries, "fine-t10", "71")
    assert "It is odd, and marked as such: is it the right probe?" in said
    assert queries.entered[0].flags == Flag.OUT_OF_RANGE | Flag.AS_TOLD


def test_the_form_stands_where_there_is_a_probe_to_read(queries):
    assert "Enter a reading that you took by eye" in str(stakes.layout(queries))
    assert "by eye" not in str(stakes.layout(fakes.no_beds()))
