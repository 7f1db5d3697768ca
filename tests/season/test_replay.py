"""A few days of the invented season through the real collector: what is due is told, the grower answers, and it ends."""

import datetime as dt

import pytest

from collector.calls import Job
from tests.season.replay import Replay


@pytest.mark.long
def test_a_dry_warm_bed_in_april_is_shaded_watered_and_looked_at(tmp_path):
    play = Replay(tmp_path, every_h=12)
    play.play(dt.date(2026, 4, 22), dt.date(2026, 4, 24))
    done = {line.job for line in play.lines if line.who == "grower"}
    assert {Job.SHADE, Job.WATER, Job.COUNT, Job.FEED} <= done
    told = [line.text for line in play.lines if line.who == "phone"]
    assert any(text.startswith("Kiln bed: lay the 50 % cloth.") for text in told)
    assert len(told) == len(set(told)), "something was told twice"
    watered = [entry for entry in play.season.entries(0, 2**62) if "litres" in entry.amounts]
    assert {entry.bed_id for entry in watered} == {"kiln", "wall"}
