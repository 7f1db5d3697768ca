"""The journal of the simulated garden: it tells of its own crop, and nothing in it is odd."""

from dataclasses import replace
from pathlib import Path

from collector import garden_file
from collector.advice.season.notebook import Notebook
from collector.journal import Deed
from collector.simulate.diary import diary
from collector.simulate.scenario import demo_scenario, garden_toml
from tests.fakes import FakeClock
from tests.fakes_advice import DAY_MS, FakeSeason

STORY = demo_scenario()
POURED = ((STORY.now_ms - 3 * DAY_MS, "kiln", 92.4), (STORY.now_ms - DAY_MS, "wall", 60.0))


def test_it_tells_counts_that_grow_feedings_and_waterings_up_to_now_in_order():
    entries = diary(STORY, POURED)
    assert [entry.at_ms for entry in entries] == sorted(entry.at_ms for entry in entries)
    assert entries[-1].at_ms <= STORY.now_ms
    kiln = [entry for entry in entries if entry.bed_id == "kiln"]
    leaves = [entry.amounts["leaves"] for entry in kiln if entry.deed is Deed.COUNTED]
    assert leaves == sorted(leaves)
    assert leaves[0] < leaves[-1] <= 10
    assert len([entry for entry in kiln if entry.deed is Deed.FED]) == 3
    assert [entry.amounts for entry in kiln if entry.deed is Deed.WATERED] == [{"litres": 92.0}]


def test_a_careful_reader_has_no_question_about_any_of_it():
    garden = garden_file.parse(garden_toml(STORY, 1883), "garden.toml", {}, Path(), secrets=False)
    book = Notebook(garden, FakeSeason(), FakeClock(STORY.now_ms))
    for entry in diary(STORY, POURED):
        assert book.ask(replace(entry, written_ms=STORY.now_ms)) == ()
        book.write(entry)
