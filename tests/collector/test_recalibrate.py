"""A calibration holds from its date on, at the wire and for what was said before it was entered; nothing sent is changed."""

import json
from dataclasses import replace

import numpy as np
import pytest

from collector.calibration import Book, Calibration, Curve, Kind
from collector.intake import Intake
from collector.model import Batch, Flag, Garden, Probe, Reading
from collector.recalibrate import Recalibrator, Replay
from collector.rollup import Every
from collector.settings import StoreSettings
from collector.stores.season import SqliteSeason
from collector.units import Quantity, UnitSystem
from tests.collector.made_readings import everything
from tests.fakes import NOW_MS, FakeClock, FakeReadingStore, FakeSource
from tests.fakes_advice import bed

MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
T12 = Probe("t12", "terrace", Quantity.SOIL_TEMPERATURE, "stake/t12", 0.12)
M15 = Probe("a", "terrace", Quantity.SOIL_MOISTURE, "stake/m15", 0.15)
ICE = Curve(Kind.POINTS, "Cel", ((0.4, 0.0),))
PT100 = Curve(Kind.PLATINUM, "Ohm", constants=(100.0,))
VOLTS = Curve(Kind.POINTS, "V", ((1.0, 0.40), (2.0, 0.10)))


def say(records, store, *calibrations, probes=(T12, M15), clock=None):
    clock = clock or FakeClock()
    source = FakeSource(clock)
    source.say(json.dumps(records).encode())
    intake = Intake([source], store, probes, clock, Book.of(calibrations))
    intake.step(0)
    return intake


def record(value, unit="Cel", at_ms=NOW_MS, name="stake/t12"):
    return {"n": name, "u": unit, "v": value, "t": at_ms / 1000}


# ---------------------------------------------------------------- at the wire


def test_what_holds_for_when_it_was_measured_tells_the_value_and_what_was_sent_is_kept():
    store = FakeReadingStore()
    late = record(15.4, at_ms=NOW_MS - DAY_MS)
    say([late, record(15.4)], store, Calibration("t12", NOW_MS - HOUR_MS, ICE, 0))
    assert [(one.value, one.raw) for one in store.readings.values()] == [(15.4, 15.4), (pytest.approx(15.0), 15.4)]


def test_a_board_that_speaks_kelvin_is_calibrated_in_degrees():
    store = FakeReadingStore()
    say([record(288.55, "K")], store, Calibration("t12", 0, ICE, 0))
    (one,) = store.readings.values()
    assert (one.value, one.raw) == (pytest.approx(15.0), 288.55)
    assert [(spoken.probe_id, spoken.unit) for spoken in store.spoken()] == [("t12", "K")]


def test_a_resistance_is_told_by_its_curve():
    store = FakeReadingStore()
    say([record(107.7935, "Ohm")], store, Calibration("t12", 0, PT100, 0))
    (one,) = store.readings.values()
    # IEC 60751: 107.79 Ω at 20 °C
    assert (one.value, one.raw, one.flags) == (pytest.approx(20.0, abs=0.001), 107.7935, Flag.NONE)


def test_a_resistance_that_nothing_tells_is_kept_and_not_believed():
    store = FakeReadingStore()
    intake = say([record(107.7935, "Ohm")], store)
    (one,) = store.readings.values()
    assert (one.value, one.raw, one.flags) == (107.7935, 107.7935, Flag.UNCALIBRATED)
    assert not one.trusted
    assert intake.counts.refused.total() == 0


def test_a_unit_that_means_nothing_here_is_refused_still():
    store = FakeReadingStore()
    say([record(5.0, "lx")], store, Calibration("t12", 0, ICE, 0))
    assert "unit 'lx'; probe t12 measures soil_temperature" in store.refusals[0]


def test_what_a_curve_makes_impossible_is_refused_with_both_numbers():
    store = FakeReadingStore()
    say([record(30.0, "V", name="stake/m15")], store, Calibration("a", 0, VOLTS, 0))
    assert "30 V, by its calibration -8.3 /, is no soil_moisture" in store.refusals[0]


def test_the_soils_temperature_is_heeded_where_it_is_known():
    curve = Curve(Kind.POINTS, "V", ((1.0, 0.40), (2.0, 0.10)), per_k=0.01, at_c=20.0, thermometer="t12")
    store, clock = FakeReadingStore(), FakeClock()
    say([record(30.0), record(1.6, "V", name="stake/m15")], store, Calibration("a", 0, curve, 0), clock=clock)
    assert store.readings["a", NOW_MS].value == pytest.approx(0.25)
    alone = FakeReadingStore()
    say([record(1.6, "V", name="stake/m15")], alone, Calibration("a", 0, curve, 0))
    assert alone.readings["a", NOW_MS].value == pytest.approx(0.22)


def test_a_calibration_that_comes_while_it_runs_holds_from_the_next_message():
    store, clock = FakeReadingStore(), FakeClock()
    source = FakeSource(clock)
    intake = Intake([source], store, [T12], clock)
    source.say(json.dumps([record(15.4)]).encode())
    intake.step(0)
    intake.calibrate(Book.of([Calibration("t12", 0, ICE, 0)]))
    source.say(json.dumps([record(15.4, at_ms=NOW_MS + MINUTE_MS)]).encode())
    intake.step(0)
    assert [one.value for one in store.readings.values()] == [15.4, pytest.approx(15.0)]


# ---------------------------------------------------------------- anew


def replay(store, readings, *calibrations, from_ms=0, to_ms=2**62, probe=T12):
    return list(Replay(readings, store, Book.of(calibrations), [T12, M15]).run(probe.id, from_ms, to_ms))


def test_what_was_said_before_it_was_entered_comes_out_anew_from_its_date_on(store, readings):
    times = [NOW_MS - DAY_MS + at * HOUR_MS for at in range(12)]
    store.commit(Batch(readings=tuple(Reading("t12", at, 15.4, 15.4, at) for at in times)))
    (portion,) = replay(store, readings, Calibration("t12", times[6], ICE, NOW_MS))
    assert (portion.looked_at, portion.changed, portion.unfit, portion.up_to_ms) == (12, 6, 0, times[-1] + 1)
    found = everything(readings, "t12")
    assert [one.value for one in found] == [15.4] * 6 + [pytest.approx(15.0)] * 6
    assert {one.raw for one in found} == {15.4}
    # and without it, as it was: nothing is lost on the way
    replay(store, readings)
    assert {one.value for one in everything(readings, "t12")} == {15.4}
    assert replay(store, readings)[0].changed == 0


def test_a_resistance_kept_for_a_month_is_told_when_its_curve_is_entered(store, readings):
    spoken = [record(107.7935, "Ohm", at_ms=NOW_MS - at * DAY_MS) for at in (30, 20, 10)]
    say(spoken, store)
    assert all(one.flags & Flag.UNCALIBRATED for one in everything(readings, "t12"))
    replay(store, readings, Calibration("t12", 0, PT100, NOW_MS))
    found = everything(readings, "t12")
    assert [one.value for one in found] == [pytest.approx(20.0, abs=0.001)] * 3
    assert [one.flags for one in found] == [Flag.NONE] * 3
    assert readings.steps("t12", NOW_MS - 40 * DAY_MS, NOW_MS, Every.DAY).mean == pytest.approx([20.0] * 3, abs=0.001)


def test_marks_of_the_watch_stay_and_what_the_checks_say_is_said_anew(store, readings):
    at_ms = NOW_MS - DAY_MS
    say([record(61.0, at_ms=at_ms), record(20.0, at_ms=at_ms + HOUR_MS)], store)
    store.mark("t12", at_ms, at_ms + 2 * HOUR_MS, Flag.DUG_UP, on=True)
    assert everything(readings, "t12")[0].flags & Flag.OUT_OF_RANGE
    replay(store, readings, Calibration("t12", 0, Curve(Kind.POINTS, "Cel", ((61.0, 20.1), (62.0, 21.1))), NOW_MS))
    first, second = everything(readings, "t12")
    assert (first.value, first.flags) == (pytest.approx(20.1), Flag.DUG_UP)
    assert second.flags & Flag.DUG_UP


def test_what_it_makes_impossible_stays_as_it_was_and_is_counted(store, readings):
    say([record(15.0)], store)
    odd = Curve(Kind.POINTS, "Cel", ((0.0, 0.0), (1.0, 1000.0)))
    (portion,) = replay(store, readings, Calibration("t12", 0, odd, NOW_MS))
    assert (portion.changed, portion.unfit) == (0, 1)
    assert [one.value for one in everything(readings, "t12")] == [15.0]


def test_the_temperature_of_then_is_heeded(store, readings):
    curve = Curve(Kind.POINTS, "V", ((1.0, 0.40), (2.0, 0.10)), per_k=0.01, at_c=20.0, thermometer="t12")
    at_ms = NOW_MS - DAY_MS
    sent = [record(30.0, at_ms=at_ms), *(record(1.6, "V", at_ms + after, "stake/m15") for after in (MINUTE_MS, 3 * HOUR_MS))]
    say(sent, store)
    replay(store, readings, Calibration("a", 0, curve, NOW_MS), probe=M15)
    assert [one.value for one in everything(readings, "a")] == pytest.approx([0.25, 0.22])


# ---------------------------------------------------------------- by itself


@pytest.fixture
def season(tmp_path):
    one = SqliteSeason(tmp_path / "season.db")
    yield one
    one.close()


def garden(tmp_path):
    whole = bed()
    return Garden(
        "G", 37.0, -7.0, 0.0, "UTC", UnitSystem.METRIC, StoreSettings(tmp_path / "x.db"), (replace(whole, probes=(T12, M15)),)
    )


def test_it_is_done_beside_the_intake_portion_by_portion_and_once(store, readings, season, tmp_path, monkeypatch):
    monkeypatch.setattr("collector.recalibrate.AT_ONCE", 5)
    times = [NOW_MS - DAY_MS + at * HOUR_MS for at in range(12)]
    say([record(15.4, at_ms=at) for at in times], store)
    told = []
    worker = Recalibrator(garden(tmp_path), season, readings, store, told.append)
    season.calibrate(Calibration("t12", times[2], ICE, NOW_MS))
    season.calibrate(Calibration("gone", 0, ICE, NOW_MS))
    for _ in range(8):
        worker.step()
    assert [one.value for one in everything(readings, "t12")] == [15.4] * 2 + [pytest.approx(15.0)] * 10
    assert len(told) == 1
    assert told[0].curve("t12", NOW_MS) == ICE
    assert dict(season.to_replay()) == {"gone": 0}  # should its probe come back

    season.strike_calibration(1, NOW_MS)
    for _ in range(8):
        worker.step()
    assert {one.value for one in everything(readings, "t12")} == {15.4}
    assert told[1].curve("t12", NOW_MS) is None


def test_a_replay_that_was_cut_off_goes_on_where_it_was(store, readings, season, tmp_path, monkeypatch):
    monkeypatch.setattr("collector.recalibrate.AT_ONCE", 5)
    times = [NOW_MS - DAY_MS + at * HOUR_MS for at in range(12)]
    say([record(15.4, at_ms=at) for at in times], store)
    season.calibrate(Calibration("t12", 0, ICE, NOW_MS))
    first = Recalibrator(garden(tmp_path), season, readings, store, lambda _book: None)
    first.step(), first.step()
    assert dict(season.to_replay()) == {"t12": times[4] + 1}
    again = Recalibrator(garden(tmp_path), season, readings, store, lambda _book: None)
    for _ in range(6):
        again.step()
    assert np.array([one.value for one in everything(readings, "t12")]) == pytest.approx(15.0)
    assert dict(season.to_replay()) == {}


def test_what_a_person_or_a_table_says_is_the_truth_and_no_curve_bends_it(store, readings, season, tmp_path):
    by_eye = Reading("t12", NOW_MS - HOUR_MS, 15.4, 15.4, NOW_MS, Flag.AS_TOLD)
    store.commit(Batch(beside=(by_eye,)))
    say([record(15.4)], store)
    season.calibrate(Calibration("t12", 0, ICE, NOW_MS))
    worker = Recalibrator(garden(tmp_path), season, readings, store, lambda _book: None)
    for _ in range(4):
        worker.step()
    assert [one.value for one in everything(readings, "t12")] == [15.4, pytest.approx(15.0)]
