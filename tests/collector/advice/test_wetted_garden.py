"""The waterings and the rain of the whole simulated season, as its moisture probes tell of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pytest

from collector.advice.wetted import Cause, Wetted, wetted_of
from collector.model import Bed, Series
from collector.simulate.bed import SimulatedBed
from collector.simulate.probes import SimulatedStake
from collector.simulate.scenario import demo_scenario
from collector.simulate.weather import weather
from collector.soil.water import GARLIC_P_TABLE, readily_available_mm, total_available_mm
from collector.soil.wetting import STEP_M3_M3, STEP_WITHIN_MS
from collector.units import Quantity

HOUR_MS = 3_600_000
MORNING_H = 5
# A front is certain where the soil itself rises by this much more than a step within two hours: what the probes scatter.
CLEARLY_M3_M3 = 0.004


@dataclass
class Season:
    """One bed's season: what its probes said, what the soil at them did, when it was watered, and the rain."""

    bed: Bed
    said: dict[str, tuple[np.ndarray, np.ndarray]]
    true: dict[str, np.ndarray]
    time_ms: np.ndarray
    poured_ms: list[int]
    rain_mm: np.ndarray

    def look(self, now_ms: int, marked_ms: int | None = None, *, gauge: bool = False) -> Wetted | None:
        keep = slice(*np.searchsorted(self.time_ms, (now_ms - 50 * HOUR_MS, now_ms + 1)))
        series = [
            Series(name, at[keep], value[keep], np.zeros(at[keep].size, dtype=np.int64))
            for name, (at, value) in self.said.items()
        ]
        rain = [Series("rain", self.time_ms[keep], self.rain_mm[keep], np.zeros(self.time_ms[keep].size, dtype=np.int64))]
        return wetted_of(self.bed, series, rain if gauge else [], marked_ms, now_ms)

    def stepped(self, from_ms: int) -> bool:
        """Whether the soil at a probe that has none above it rose by a clear step in two of the next four hours."""
        begin, end = np.searchsorted(self.time_ms, (from_ms, from_ms + 4 * HOUR_MS))
        (top, *_) = self.bed.probes_of(Quantity.SOIL_MOISTURE)
        steps = STEP_WITHIN_MS // (self.time_ms[1] - self.time_ms[0])
        true = self.true[top.id][begin:end]
        return bool((true[steps:] - true[:-steps]).max() >= STEP_M3_M3 + CLEARLY_M3_M3)

    def wet(self, at_ms: int) -> bool:
        """Whether rain or the hose came in the hours before a time."""
        near = (self.time_ms > at_ms - 6 * HOUR_MS) & (self.time_ms <= at_ms + HOUR_MS)
        return bool(self.rain_mm[near].sum() > 0.0) or any(-6 * HOUR_MS <= one - at_ms <= HOUR_MS for one in self.poured_ms)


@pytest.fixture(scope="module")
def seasons() -> list[Season]:
    """The three beds of the story, watered as its grower does: in the morning, when 0.9 of RAW is used up."""
    story = demo_scenario()
    days = (dt.datetime.fromtimestamp(story.now_ms / 1000, dt.UTC).date() - story.weather_first).days
    moments = weather(story.climate, story.weather_first, days, story.spells, story.seed).moments()
    found = []
    for bed in story.beds:
        soil, probes = SimulatedBed(bed, story.climate, story.weather_first), bed.probes_of(Quantity.SOIL_MOISTURE)
        names = {one.address.removeprefix("urn:dev:"): one.id for one in probes}
        stake = SimulatedStake(bed.id, probes, (), 4.1, 0.0)
        raw_mm = readily_available_mm(total_available_mm(bed.field_capacity, bed.wilting_point, bed.root_depth_m), GARLIC_P_TABLE)
        said: dict[str, list[float]] = {one.id: [] for one in probes}
        true: dict[str, list[float]] = {one.id: [] for one in probes}
        poured_ms = []
        for moment in moments:
            soil.pass_time(moment)
            for record in stake.read(soil, moment):
                said[names[record.name]].append(record.value)
            for one in probes:
                true[one.id].append(soil.moisture_m3_m3(one.depth_m or 0.0))
            now = dt.datetime.fromtimestamp(moment.time_ms / 1000, dt.UTC)
            if (now.hour, now.minute) == (MORNING_H, 0) and soil.depletion_mm >= 0.9 * raw_mm:
                soil.pour(soil.depletion_mm * bed.area_m2 / bed.watering_efficiency)
                poured_ms.append(moment.time_ms)
        time_ms = np.array([moment.time_ms for moment in moments], dtype=np.int64)
        found.append(
            Season(
                bed,
                {name: (time_ms, np.array(values)) for name, values in said.items()},
                {name: np.array(values) for name, values in true.items()},
                time_ms,
                [at_ms for at_ms in poured_ms if at_ms > time_ms[0] + 3 * 24 * HOUR_MS],
                np.array([moment.rain_mm for moment in moments]),
            )
        )
    return found


def test_each_watering_that_the_grower_marks_is_found_at_its_time(seasons: list[Season]) -> None:
    """35 waterings of three beds, marked half an hour later."""
    late_ms = []
    for season in seasons:
        for poured_ms in season.poured_ms:
            found = season.look(poured_ms + 5 * HOUR_MS, poured_ms + HOUR_MS // 2)
            assert found is not None
            assert found.cause is Cause.WATERING
            late_ms.append(abs(found.onset_ms - poured_ms))
    assert len(late_ms) == 35
    assert max(late_ms) <= HOUR_MS


def test_a_watering_that_nobody_marks_is_found_where_the_soil_at_the_probe_steps(seasons: list[Season]) -> None:
    """10 of the 35 step, and each is found within the hour of its truth.

    The others seep for hours: less than a step in two hours, which the warmth of a day can feign. Those need the mark.
    """
    late_ms = []
    for season in seasons:
        for poured_ms in season.poured_ms:
            if season.stepped(poured_ms):
                found = season.look(poured_ms + 5 * HOUR_MS)
                assert found is not None
                late_ms.append(abs(found.onset_ms - poured_ms))
    assert len(late_ms) == 10
    assert max(late_ms) <= HOUR_MS


def test_rain_that_steps_is_found_and_on_dry_days_there_is_no_watering(seasons: list[Season]) -> None:
    """3381 looks, one each four hours: 61 waterings and rains seen, none on a dry day, all 36 rains that step among them."""
    looks, onsets, rains, missed = 0, 0, 0, 0
    dry: list[int] = []
    for season in seasons:
        seen = set()
        for now_ms in range(int(season.time_ms[0]) + 54 * HOUR_MS, int(season.time_ms[-1]), 4 * HOUR_MS):
            looks += 1
            if (found := season.look(now_ms)) is not None:
                seen.add(found.onset_ms)
        onsets += len(seen)
        dry += [onset_ms for onset_ms in seen if not season.wet(onset_ms)]
        fell = season.time_ms[season.rain_mm > 0.0]
        begins = fell[np.concatenate([[True], np.diff(fell) > 6 * HOUR_MS])]
        for began_ms in begins[begins > season.time_ms[0] + 54 * HOUR_MS].tolist():
            if season.stepped(began_ms):
                rains += 1
                missed += season.look(began_ms + 5 * HOUR_MS) is None
    assert dry == []
    assert (looks, onsets, rains, missed) == (3381, 61, 36, 0)
