"""Stakes: what each probe said last, how long it is silent, and who speaks without being known."""

from dataclasses import replace

import pytest

from collector.query import Heard, ProbeView
from dashboard.pages import stakes
from tests.dashboard import fakes
from tests.dashboard.fakes import FakeQueries


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
