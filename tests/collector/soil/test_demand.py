"""What a bed is thought to drink where little is known of the weather, and how well that serves in the simulated garden."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from collector.model import Bed, Cover, Planting
from collector.simulate.bed import SimulatedBed
from collector.simulate.weather import STEP_MS, Climate, weather
from collector.soil import demand, dry_down, radiation
from collector.soil import evapotranspiration as et
from collector.soil.root_zone import RootZone, measured_depletion_mm

HOUR = demand.HOUR_MS
START_MS = int(dt.datetime(2026, 7, 15, tzinfo=dt.UTC).timestamp()) * 1000


def hours(count: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return START_MS + np.arange(1, count + 1, dtype=np.int64) * HOUR


def test_the_hours_of_a_day_add_up_to_the_days_published_value() -> None:
    # Allen et al. 1998, FAO-56, Example 20, pp. 77-78: Lyon, July, 45 deg 43 min N, 26.6 and 14.8 °C: Hargreaves 5.0 mm/d
    air_c = 20.7 + 5.9 * np.cos(2 * np.pi * (np.arange(72) - 15) / 24)
    by_hour = demand.reference_by_air_mm(hours(72), 45.0 + 43 / 60, 4.8, air_c)
    assert by_hour[24:48].sum() == pytest.approx(5.0, abs=0.1)
    night = by_hour[24:48].reshape(-1, 3)[0]  # midnight to three
    assert (night == 0.0).all()
    assert int(np.argmax(by_hour[24:48])) in (11, 12)


def test_with_no_temperature_the_height_of_the_sun_is_left() -> None:
    sun = demand.reference_by_air_mm(hours(48), 35.0, 24.0, np.full(48, np.nan))
    ra = radiation.extraterrestrial_mj_m2_d(35.0, 196.0)
    assert sun[:24].sum() == pytest.approx(et.hargreaves_mm_d(ra, 25.0, 14.0), rel=0.01)


def test_polar_night_gives_nothing() -> None:
    midwinter = int(dt.datetime(2026, 12, 21, tzinfo=dt.UTC).timestamp()) * 1000 + np.arange(24, dtype=np.int64) * HOUR
    assert demand.reference_by_air_mm(midwinter, 80.0, 0.0, np.full(24, -20.0)).sum() == 0.0


def test_gaps_are_filled_by_the_same_hour_of_other_days() -> None:
    amounts = np.tile(np.arange(24.0), 3)
    gappy = amounts.copy()
    gappy[30:40] = np.nan
    assert demand.filled_by_day_mm(gappy, 24) == pytest.approx(amounts)
    assert demand.filled_by_day_mm(np.full(48, np.nan), 24).sum() == pytest.approx(2 * demand.UNTOLD_MM_D)


def test_the_usual_day_is_a_dry_one() -> None:
    amounts, gains = np.repeat([5.0, 1.0, 5.0], 24) / 24, np.zeros(72)
    gains[30] = 20.0
    assert demand.usual_day_mm(amounts, gains, 24).sum() == pytest.approx(5.0)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="want as many, -90 to 90"):
        demand.reference_by_air_mm(hours(3), 91.0, 0.0, np.zeros(3))
    with pytest.raises(ValueError, match="want as many, -90 to 90"):
        demand.reference_by_air_mm(hours(3), 45.0, 0.0, np.zeros(2))


# ---------------------------------------------------------------- the simulated garden

CLIMATE = Climate(35.4, 24.6, 120.0, year_mean_c=15.1, year_swing_k=7.5, warmest_day=212.0, day_swing_k=6.0)
BED = Bed(
    id="one", name="One", area_m2=5.0, soil="loam", field_capacity=0.25, wilting_point=0.12,
    covers=(Cover("straw", 0.05),), plantings=(Planting("Any", 0.08, dt.date(2025, 10, 21)),),
)  # fmt: skip
DEPTHS_M = (0.08, 0.22)
DAYS = 110


@pytest.mark.parametrize("knows_air", [True, False])
def test_in_the_simulated_garden_the_day_of_refilling_is_told_a_day_after_watering(knows_air: bool) -> None:
    """Probes that scatter by 0.003, rain and waterings known, no weather ahead: the bed is watered when it is past the line."""
    first = dt.date(2026, 2, 20)
    bed, sky = SimulatedBed(BED, CLIMATE, first), weather(CLIMATE, first, DAYS, (), seed=5)
    zone = RootZone(0.25, 0.12, BED.root_depth_m)
    line_mm = 0.30 * zone.taw_mm
    scatter = np.random.default_rng(8).normal(0.0, 0.003, (DAYS * 24, 2))
    moisture, gain, air = np.empty((DAYS * 24, 2)), np.zeros(DAYS * 24), sky.air_c.reshape(-1, 6).mean(axis=1)
    waterings = []
    for step, moment in enumerate(sky.moments()):
        hour = step // 6
        if step % 144 == 36 and hour and measured_depletion_mm(zone, DEPTHS_M, moisture[hour - 1 : hour])[0] > 1.1 * line_mm:
            bed.pour(1.2 * line_mm * BED.area_m2)
            gain[hour] += 1.2 * line_mm
            waterings.append(hour)
        bed.pass_time(moment)
        gain[hour] += moment.rain_mm
        moisture[hour] = [bed.moisture_m3_m3(depth_m) for depth_m in DEPTHS_M]
    times = int(sky.time_ms[0]) - STEP_MS + np.arange(1, DAYS * 24 + 1, dtype=np.int64) * HOUR
    truth_mm = measured_depletion_mm(zone, DEPTHS_M, moisture)
    reference = demand.reference_by_air_mm(times, 35.4, 24.6, air if knows_air else np.full(air.size, np.nan))

    late_d, timely = [], []
    for begin, end in zip(waterings, [*waterings[1:], DAYS * 24], strict=True):
        now = begin + 24
        crossed = next((k for k in range(now, end) if truth_mm[k] >= line_mm), None)
        if begin < 20 * 24 or crossed is None or gain[now:crossed].sum() > 1.0 or truth_mm[now - 1] >= line_mm:
            continue
        past = slice(now - 20 * 24, now)
        state = dry_down.fit(zone, times[past], DEPTHS_M, (moisture + scatter)[past], reference[past], gain[past])
        path = dry_down.ahead(state, 14, line_mm=line_mm)
        assert path.refill_ms is not None
        late_d.append((path.refill_ms - times[crossed]) / demand.DAY_MS)
        timely.append((path.early_ms or 0) <= times[crossed] <= (path.late_ms or times[-1]))
    assert len(late_d) >= 4
    assert np.median(np.abs(late_d)) <= 1.0
    assert np.mean(timely) >= 0.6
