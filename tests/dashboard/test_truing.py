"""Calibrating a probe on the page: what is true there now, against what it says; what holds, and the way back."""

import dash
import pytest

from collector.calibration import Calibration, Curve, Kind
from collector.units import UnitSystem
from dashboard.components import truing
from dashboard.pages import stakes
from tests.dashboard import fakes


@pytest.fixture
def queries():
    return fakes.one_bed("fine")


def said(queries, probe_id):
    return queries.latest()[probe_id].value


def test_one_point_is_an_offset_from_now_on(queries):
    now_c = said(queries, "fine-t10")
    told, field, rows = truing.heed(queries, "fine-t10", "17,0", "beside a glass one", False)
    (one,) = queries.curves
    assert (one.probe_id, one.from_ms, one.note) == ("fine-t10", fakes.NOW_MS, "beside a glass one")
    assert one.curve == Curve(Kind.POINTS, "Cel", ((now_c, 17.0),))
    assert told == f"Kept. Fine: 10 cm down, soil temperature: What said {now_c:g} °C is 17.0 °C, from now on."
    assert field == ""
    assert "beside a glass one" in str(rows)


def test_a_second_point_joins_the_first_or_takes_its_place(queries):
    queries.calibrate(Calibration("fine-m15", 1, Curve(Kind.POINTS, "/", ((0.05, 0.0),)), 1))
    # by that offset it says what it says now; without, so much more
    sent = pytest.approx(said(queries, "fine-m15") + 0.05)
    truing.heed(queries, "fine-m15", "38", "", True)
    assert queries.curves[-1].curve.points == ((0.05, 0.0), (sent, 0.38))
    truing.heed(queries, "fine-m15", "38", "", False)
    # what it says now is told by the two points: gone back on, it is what was sent
    ((again, true),) = queries.curves[-1].curve.points
    assert true == 0.38
    assert again == pytest.approx(0.05 + said(queries, "fine-m15") * (queries.curves[1].curve.points[1][0] - 0.05) / 0.38)


def test_fahrenheit_is_taken_and_told(queries):
    queries.shown = fakes.garden_view([fakes.bed_view("fine")], units=UnitSystem.US)
    told, _, _ = truing.heed(queries, "fine-t10", "62.6", "", False)
    assert queries.curves[0].curve.points[0][1] == pytest.approx(17.0)
    assert "is 62.6 °F" in told


@pytest.mark.parametrize(
    ("probe_id", "text", "words"),
    [
        ("fine-t10", "", "Want a number, got nothing"),
        ("fine-t10", "ice", "got ice"),
        ("fine-t10", "9000", "9000 Cel is no soil_temperature"),
        ("fine-t10", "0", "It says 17.2 °C now, 17.2 °C from that. No sound thermometer is so far off"),
        ("gone", "0", "no longer in the garden file"),
    ],
)
def test_what_cannot_be_is_told_and_what_was_typed_stays(queries, probe_id, text, words):
    told, *rest = truing.heed(queries, probe_id, text, "", False)
    assert words in told
    assert rest == [dash.no_update] * 2
    assert queries.curves == []


def test_a_probe_that_is_silent_has_nothing_to_hold_against_and_another_curve_is_left_alone():
    silent = fakes.one_bed("silent")
    probe = silent.shown.garden.probes[0]
    assert "not spoken in the last quarter of an hour" in truing.heed(silent, probe.id, "0", "", False)[0]
    queries = fakes.one_bed("fine")
    queries.calibrate(Calibration("fine-t10", 0, Curve(Kind.PLATINUM, "Ohm", constants=(100.0,)), 0))
    assert (
        "told by a curve (platinum); change that with: cooldepth calibrate" in truing.heed(queries, "fine-t10", "0", "", False)[0]
    )


def test_one_is_taken_back_and_no_longer_stands_there(queries):
    truing.heed(queries, "fine-t10", "17", "", False)
    told, _, rows = truing.heed_back(queries, 1)
    assert told.startswith("Taken back. What fine-t10 has said since then")
    assert "No calibration holds." in str(rows)
    assert truing.heed_back(queries, 7)[0] == "no calibration 7"


def test_it_stands_on_the_page_where_there_are_probes(queries):
    assert "Calibrate a probe" in str(stakes.layout(queries))
    assert "Calibrate" not in str(stakes.layout(fakes.no_beds()))
