"""The next job of a garden in which nothing is due: what is foreseen first, and when."""

from __future__ import annotations

from collector.calls import Job
from collector.query import GardenView
from dashboard.figures.chart import Reader

_WORDS = {Job.WATER: "water", Job.SHADE: "shade"}


def next_job(garden: GardenView) -> str | None:
    """ "The next job is likely on Thursday: water, Wall bed."; None where nothing is foreseen."""
    foreseen = [(at_ms, job, view) for view in garden.beds for job, at_ms in view.foreseen if job in _WORDS]
    if not foreseen:
        return None
    at_ms, job, view = min(foreseen, key=lambda each: each[0])
    words = garden.garden
    day = Reader("light", words.units, words.timezone).day(at_ms, garden.now_ms)
    where = "" if len(garden.beds) == 1 else f", {view.bed.name}"
    return f"The next job is likely {day}: {_WORDS[job]}{where}."
