"""Do probes sit well: what the first hour tells of each, and two days of their order."""

from __future__ import annotations

import math

import pytest

from collector.advice.mounted import LOOKS_BACK_MS, How, fastest_k_h, mounted, summary
from collector.advice.rounds import series_of
from collector.advice.voice import voice_of
from collector.model import Flag
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakeReadings, M, T, bed, every, garden, probe

DEPTHS_M = (0.05, 0.12, 0.20)
BED = bed(thermometers_m=DEPTHS_M)
VOICE = voice_of(garden(BED))
TEN = 10 * MINUTE_MS


def soil_c(depth_m):
    return lambda at_ms: 16.0 + 6.0 * math.exp(-depth_m / 0.11) * math.sin(2 * math.pi * at_ms / DAY_MS - depth_m / 0.11)


def stake(since_ms, **values):
    """Everything speaks every ten minutes since then; `t12=...` makes one say something else, None nothing."""
    readings = FakeReadings()
    for depth_m in DEPTHS_M:
        value = values.get(f"t{depth_m * 100:.0f}", soil_c(depth_m))
        if value is not None:
            readings.say(probe(T, depth_m), value, *every(TEN, since_ms, NOW_MS))
    readings.say(probe(M, 0.15), values.get("m15", 0.2), *every(TEN, since_ms, NOW_MS))
    return readings


def looks(readings, of=BED):
    found = mounted(of, series_of(of, readings, NOW_MS - LOOKS_BACK_MS, NOW_MS + 1), readings.latest(), NOW_MS, VOICE)
    return {"order" if look.probe is None else look.probe.id.split("soil_")[1]: look for look in found}, summary(found)


def test_after_two_days_all_is_as_it_should_be():
    found, told = looks(stake(NOW_MS - LOOKS_BACK_MS))
    assert {look.how for look in found.values()} == {How.WELL}
    assert told == "All is as it should be."
    # 2 * 6 K * exp(-z / 0.11 m) at 5, 12 and 20 cm
    assert (
        found["order"].words
        == "From night to day it swings by 7.6 °C at 5 cm, 4 °C at 12 cm, 1.9 °C at 20 cm: no two look swapped."
    )
    assert found["moisture-15"].words == "Says 20 %. Believe it after two days and one watering."


def test_in_the_first_hour_the_order_waits_and_says_until_when():
    found, told = looks(stake(NOW_MS - HOUR_MS))
    assert found["order"].how is How.WAIT
    assert "shows after two days: " in found["order"].words
    assert told == "Nothing is odd so far; not all is known yet."


def test_two_that_lie_in_each_others_place_are_asked_about():
    found, told = looks(stake(NOW_MS - LOOKS_BACK_MS, t5=soil_c(0.20), t20=soil_c(0.05)))
    assert found["order"].how is How.ODD
    assert found["order"].words.startswith("Are these two swapped? The one said to be at 5 cm swings less, and later, than")
    assert told == "One thing wants a look."


@pytest.mark.parametrize(
    ("which", "values", "how", "words"),
    [
        ("temperature-12", {"t12": None}, How.WAIT, "Nothing heard yet from urn:terrace-soil_temperature-12."),
        # it came out of air at 30 °C an hour ago
        (
            "temperature-12",
            {"t12": lambda at_ms: 14 + 16 * math.exp(-max(at_ms - NOW_MS + HOUR_MS, 0) / HOUR_MS)},
            How.WAIT,
            "taking up",
        ),
        ("temperature-12", {"t12": lambda at_ms: 14 + (at_ms // TEN) % 2}, How.ODD, "jumps to and fro by 1 °C. Check its plug"),
        ("temperature-12", {"t12": soil_c(0.05)}, How.ODD, "Says the same as the one at 5 cm, to the last digit."),
        ("moisture-15", {"m15": 0.02}, How.ODD, "Says 2 %, which is air and not soil. Press the soil back"),
        ("moisture-15", {"m15": 0.70}, How.ODD, "Says 70 %, more than soil holds."),
        ("moisture-15", {"m15": 0.20}, How.WELL, "Says 20 %."),
    ],
)
def test_what_may_be_odd_about_one_probe(which, values, how, words):
    found, _ = looks(stake(NOW_MS - 6 * HOUR_MS, **values))
    assert found[which].how is how
    assert words in found[which].words


def test_a_fault_of_the_last_reading_comes_first_and_silence_is_told():
    readings = stake(NOW_MS - 6 * HOUR_MS)
    readings.say(probe(T, 0.05), 85.0, NOW_MS, flags=Flag.RESET_VALUE)
    found, told = looks(readings)
    assert "power-on value" in found["temperature-5"].words
    assert told == "One thing wants a look."
    readings.said[probe(T, 0.20).id] = {
        at: one for at, one in readings.said[probe(T, 0.20).id].items() if at < NOW_MS - 2 * HOUR_MS
    }
    found, told = looks(readings)
    assert found["temperature-20"].words.startswith("Silent since")
    assert told == "2 things want a look."


def test_a_bed_with_one_thermometer_has_no_order_and_one_without_probes_nothing():
    lone = bed(thermometers_m=(0.12,), moistures_m=())
    found, _ = looks(stake(NOW_MS - HOUR_MS), lone)
    assert list(found) == ["temperature-12"]
    assert looks(FakeReadings(), bed(thermometers_m=(), moistures_m=())) == ({}, "No probes yet.")


def test_the_fastest_that_soil_moves_falls_with_depth_to_a_floor():
    assert [round(fastest_k_h(depth_m), 2) for depth_m in (0.0, 0.095, 0.19, 1.0)] == [15.0, 5.52, 2.03, 0.7]
