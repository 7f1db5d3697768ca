"""Did the water get down: on a front drawn by hand, in the simulated garden, and in a recorded storm."""

from __future__ import annotations

import csv
import datetime as dt
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from collector.model import Bed, Cover, Planting
from collector.simulate.bed import SimulatedBed
from collector.simulate.weather import STEP_MS, Climate, Moment
from collector.soil.arrays import Array
from collector.soil.wetting import Flow, answers, flow, fronts, reached_m, steadied

MINUTE = 60_000
DEPTHS_M = (0.08, 0.20, 0.35)
TIMES = np.arange(0, 24 * 60, 10, dtype=np.int64) * MINUTE
SINCE = 12 * 60 * MINUTE


def drawn(*fronts: tuple[float, float, float], noise: float = 0.001) -> Array:
    """Probes that stand at 0.15 and rise: (minutes after the water began, by how much, over how many minutes)."""
    scatter = np.random.default_rng(3).normal(0.0, noise, (TIMES.size, len(fronts)))
    after = (TIMES - SINCE) / MINUTE
    rises = [by * np.clip((after - late) / over, 0.0, 1.0) for late, by, over in fronts]
    return 0.15 + np.stack(rises, axis=1) + scatter


GONE = (10_000.0, 0.1, 10.0)


def test_each_depth_tells_when_the_front_came() -> None:
    found = answers(TIMES, DEPTHS_M, drawn((20, 0.10, 20), (90, 0.06, 40), GONE), SINCE)
    minutes = [None if one.front_ms is None else (one.front_ms - SINCE) / MINUTE for one in found]
    assert minutes[0] == pytest.approx(30, abs=10)
    assert minutes[1] == pytest.approx(110, abs=20)
    assert minutes[2] is None
    assert found[0].rise_m3_m3 == pytest.approx(0.10, abs=0.01)
    assert reached_m(found) == (0.20, 0.35)


def test_a_late_small_rise_is_drainage_and_no_front() -> None:
    (_, _, deep) = answers(TIMES, DEPTHS_M, drawn((20, 0.10, 20), (90, 0.06, 40), (240, 0.03, 420)), SINCE)
    assert deep.front_ms is None
    assert deep.drained
    assert not answers(TIMES, (0.08,), drawn(GONE), SINCE)[0].drained


def test_noise_alone_is_no_front() -> None:
    loud = answers(TIMES, DEPTHS_M, drawn(GONE, GONE, GONE, noise=0.015), SINCE)
    assert [one.front_ms for one in loud] == [None, None, None]
    assert reached_m(loud) == (0.0, 0.08)


def test_go_on_until_two_thirds_then_stop_then_too_much() -> None:
    table = drawn((20, 0.10, 20), (90, 0.06, 40), (200, 0.05, 40))
    said = []
    for minutes in (60, 150, 400):
        until = slice(int(np.searchsorted(TIMES, SINCE + minutes * MINUTE, side="right")))
        said.append(flow(answers(TIMES[until], DEPTHS_M, table[until], SINCE), 0.30, 0.25))
    assert said == [Flow.GO_ON, Flow.STOP, Flow.TOO_MUCH]


def test_a_probe_that_stands_at_field_capacity_says_stop_from_the_beginning() -> None:
    table = drawn((20, 0.10, 20), GONE, GONE)
    table[:, 1] += 0.11
    assert flow(answers(TIMES, DEPTHS_M, table, SINCE), 0.30, 0.25) is Flow.STOP


def test_a_shallow_probe_alone_cannot_tell_when_to_stop() -> None:
    assert flow(answers(TIMES, (0.08,), drawn((20, 0.10, 20)), SINCE), 0.30, 0.25) is Flow.NOT_KNOWN


def test_a_silent_probe_tells_nothing_and_hides_nothing() -> None:
    table = drawn((20, 0.10, 20), (90, 0.06, 40), GONE)
    table[:, 1] = np.nan
    found = answers(TIMES, DEPTHS_M, table, SINCE)
    assert np.isnan(found[1].rise_m3_m3)
    assert reached_m(found) == (0.08, 0.35)
    assert flow(found, 0.30, 0.25) is Flow.NOT_KNOWN


def test_readings_that_are_hours_apart_still_show_the_step() -> None:
    few = slice(None, None, 24)  # every four hours
    found = answers(TIMES[few], DEPTHS_M, drawn((20, 0.10, 20), (90, 0.06, 40), GONE)[few], SINCE)
    assert [one.front_ms is not None for one in found] == [True, True, False]


def test_each_watering_of_a_day_is_a_front_of_its_own_and_begins_where_the_rise_began() -> None:
    twice = drawn((-300, 0.06, 40), GONE)[:, 0] + drawn((20, 0.10, 30))[:, 0] - 0.15
    found = fronts(TIMES, twice)
    assert [(one.began_ms - SINCE) / MINUTE for one in found] == pytest.approx([-300, 20], abs=20)
    assert all(0 < one.front_ms - one.began_ms <= 30 * MINUTE for one in found)


def test_a_rise_over_a_long_silence_or_slower_than_two_hours_is_no_front() -> None:
    table = drawn((20, 0.10, 20))[:, 0]
    silent = np.where((TIMES > SINCE - 120 * MINUTE) & (TIMES < SINCE + 120 * MINUTE), np.nan, table)
    assert fronts(TIMES, silent) == ()
    assert fronts(TIMES, drawn((0, 0.06, 720))[:, 0]) == ()
    assert fronts(TIMES[:1], table[:1]) == fronts(TIMES, np.full(TIMES.size, np.nan)) == ()


def test_a_single_spike_or_drop_out_is_taken_away_and_the_newest_rise_waits_for_the_next() -> None:
    assert steadied(np.array([0.2, 0.2, 0.5, 0.2, 0.0, 0.2, 0.2])).tolist() == [0.2] * 7
    assert steadied(np.array([0.2, 0.2, 0.2, 0.5])).tolist() == [0.2] * 4
    assert steadied(np.array([0.2, 0.2, 0.5, 0.5])).tolist() == [0.2, 0.2, 0.5, 0.5]
    assert [steadied(np.array(few)).tolist() for few in ([], [0.3], [0.2, 0.3])] == [[], [0.3], [0.2, 0.2]]


def test_what_cannot_be_is_refused() -> None:
    table = drawn(GONE)
    with pytest.raises(ValueError, match="one value for each time"):
        fronts(TIMES, table)
    with pytest.raises(ValueError, match="time_ms does not ascend"):
        fronts(TIMES[::-1], table[:, 0])
    with pytest.raises(ValueError, match="times by depths"):
        answers(TIMES, DEPTHS_M, table, SINCE)
    with pytest.raises(ValueError, match="time_ms does not ascend"):
        answers(TIMES[::-1], (0.1,), table, SINCE)
    with pytest.raises(ValueError, match="some after it"):
        answers(TIMES, (0.1,), table, int(TIMES[-1]))
    with pytest.raises(ValueError, match="one column for each"):
        answers(TIMES, (0.2, 0.1), np.repeat(table, 2, axis=1), SINCE)
    with pytest.raises(ValueError, match="root_depth_m is 0"):
        flow(answers(TIMES, (0.1,), table, SINCE), 0.0, 0.25)


# ---------------------------------------------------------------- the simulated garden

FIRST = dt.date(2026, 4, 1)
BED = Bed(
    id="one", name="One", area_m2=5.0, soil="loam", field_capacity=0.25, wilting_point=0.12,
    covers=(Cover("straw", 0.06),), plantings=(Planting("Any", 0.08, dt.date(2025, 11, 1)),),
)  # fmt: skip


def watered(mm: float) -> tuple[Array, np.ndarray[tuple[int], np.dtype[np.int64]], int]:
    """A simulated bed over a day, watered at noon: its water at three depths, the times, and when it was watered."""
    bed = SimulatedBed(replace(BED), Climate(35.0, 20.0, 50.0, 16.0, 7.0, 210.0, 6.0), FIRST)
    start_ms = int(dt.datetime(2026, 4, 1, tzinfo=dt.UTC).timestamp()) * 1000
    rows, times = [], []
    for step in range(144):
        if step == 72:
            bed.pour(mm * BED.area_m2)
        bed.pass_time(Moment(start_ms + (step + 1) * STEP_MS, 16.0, 300.0, 60.0, 1.5, 0.0, 70.0, 0.02))
        rows.append([bed.moisture_m3_m3(depth_m) for depth_m in DEPTHS_M])
        times.append(start_ms + (step + 1) * STEP_MS)
    return np.array(rows), np.array(times, dtype=np.int64), start_ms + 72 * STEP_MS


def test_in_the_simulated_garden_more_water_comes_deeper() -> None:
    said, depths_m = [], []
    for mm in (0.0, 8.0, 30.0, 110.0):
        moisture, times, since = watered(mm)
        found = answers(times, DEPTHS_M, moisture, since)
        said.append(flow(found, 0.30, 0.25))
        depths_m.append(reached_m(found)[0])
    assert depths_m == sorted(depths_m)
    assert depths_m[0] == 0.0
    assert depths_m[-1] == 0.35
    assert (said[0], said[-1]) == (Flow.GO_ON, Flow.TOO_MUCH)


# ---------------------------------------------------------------- a recorded storm

DATA = Path(os.environ.get("COOLDEPTH_DATA", Path(__file__).parents[3] / ".." / "shared" / "data"))


def test_a_recorded_storm_is_seen_where_it_came_and_dry_days_make_no_front() -> None:
    """Bondville, Illinois, 1998 (NOAA, public domain): 45 mm on 22 July end a dry spell; 5 cm steps, 20 cm was wet already."""
    path = DATA / "bondville_il_1998_hourly.csv"
    if not path.exists():
        pytest.skip(f"no measured data at {path}: set COOLDEPTH_DATA to the folder that holds it")
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    times = np.array([row["time_utc"].rstrip("Z") for row in rows], dtype="datetime64[ms]").astype(np.int64)
    moisture = np.array([[float(row[f"swc_{cm}cm_m3m3"] or "nan") for cm in ("05", "20", "60")] for row in rows])
    rain_mm = np.array([float(row["rain_mm"] or "nan") for row in rows])
    summer = (times >= ms("1998-05-01")) & (times < ms("1998-10-01"))

    storm = summer & (times >= ms("1998-07-22")) & (rain_mm > 1.0)
    began = int(times[np.flatnonzero(storm)[0]]) - 3_600_000
    day = (times > began - 12 * 3_600_000) & (times <= began + 24 * 3_600_000)
    top, middle, _ = answers(times[day], (0.05, 0.20, 0.60), moisture[day], began)
    assert top.front_ms is not None
    assert 0 < top.front_ms - began <= 12 * 3_600_000
    assert top.rise_m3_m3 > 0.10
    assert middle.front_ms is None

    false_alarms, looks = 0, 0
    for k in np.flatnonzero(summer)[12::24]:
        if rain_mm[k - 36 : k + 24].sum() == 0.0:
            looks += 1
            found = answers(times[k - 12 : k + 24], (0.05, 0.20), moisture[k - 12 : k + 24, :2], int(times[k]))
            false_alarms += any(one.front_ms is not None for one in found)
    assert looks > 30
    assert false_alarms <= looks // 20


def ms(date: str) -> int:
    return int(np.datetime64(date, "ms").astype(np.int64))
