"""What an address said before it was claimed becomes readings of its probe, each once, and is kept no longer than that."""

import pytest

from collector.errors import StoreBusyError
from collector.intake import Intake
from collector.model import Batch, Flag, Probe, Unclaimed
from collector.sources.kept import AT_ONCE, KeptSource
from collector.units import Quantity
from tests.collector.made_readings import everything
from tests.fakes import NOW_MS, FakeClock, FakeReadingStore, FakeSource

PROBE = Probe("t12", "upper", Quantity.SOIL_TEMPERATURE, "stake/new", 0.12)


def kept(number, address="stake/new", unit="Cel", value=15.0):
    at_ms = NOW_MS - 86_400_000 + number * 60_001
    return Unclaimed(address, unit, at_ms, value + number / 16, at_ms + 250, "mqtt garden/stake")


def run(store, clock, sources=()):
    source = KeptSource(store, [PROBE.address], clock)
    intake = Intake([source, *sources], store, [PROBE], clock)
    while intake.step(0.2):
        pass
    return intake


def test_all_that_was_kept_becomes_readings_in_their_order_and_others_stay(store, readings):
    count = 2 * AT_ONCE + 7
    told = [kept(number, value=10.0 if number < 300 else 15.0) for number in range(count)]
    other = kept(3, address="stake/other")
    store.commit(Batch(unclaimed=(*told, other)))
    intake = run(store, FakeClock())
    found = everything(readings, "t12")
    assert [(one.measured_ms, one.value, one.raw, one.received_ms) for one in found] == [
        (one.measured_ms, one.value, one.value, one.received_ms) for one in told
    ]
    assert (intake.counts.readings, intake.trouble) == (count, None)
    assert list(readings.unclaimed()) == [other]
    assert readings.counts().unclaimed == 1


def test_they_are_checked_and_refused_as_everything_is(store, readings):
    store.commit(Batch(unclaimed=(kept(0, value=85.0), kept(1, unit="lx"), kept(2, unit="K", value=288.15))))
    run(store, FakeClock())
    assert [(one.value, one.flags) for one in everything(readings, "t12")] == [
        (85.0, Flag.OUT_OF_RANGE | Flag.RESET_VALUE),
        (pytest.approx(15.125), Flag.NONE),
    ]
    (refused,) = readings.refused()
    assert "unit 'lx'; probe t12 measures soil_temperature" in refused.reason
    assert refused.source == "kept of mqtt garden/stake"
    assert list(readings.unclaimed()) == []


def test_what_was_stored_and_could_not_be_let_go_of_comes_again_and_does_no_harm(store, readings):
    store.commit(Batch(unclaimed=(kept(0), kept(1))))
    source = KeptSource(store, [PROBE.address], FakeClock())
    taken = source.take(0.0)
    intake = Intake([source], store, [PROBE], FakeClock())
    assert len(taken) == 2
    intake.step(0.0)  # a crash between the commit and this would leave them kept
    store.commit(Batch(unclaimed=(kept(0), kept(1))))
    run(store, FakeClock())
    assert [one.measured_ms for one in everything(readings, "t12")] == [kept(0).measured_ms, kept(1).measured_ms]
    assert list(readings.unclaimed()) == []


def test_a_store_that_is_busy_is_told_and_asked_again(monkeypatch):
    clock, store = FakeClock(), FakeReadingStore()
    store.commit(Batch(unclaimed=(kept(0),)))
    source = KeptSource(store, [PROBE.address], clock)
    real = store.kept_of

    def busy(*_):
        raise StoreBusyError("the disk is full")

    monkeypatch.setattr(store, "kept_of", busy)
    assert source.take(0.5) == []
    assert source.trouble == "they cannot be read now, and are tried again: the disk is full"
    assert clock.elapsed_s() == 0.5
    monkeypatch.setattr(store, "kept_of", real)
    assert len(source.take(0.5)) == 1
    assert source.trouble is None


def test_when_all_is_told_it_waits_and_asks_no_more(monkeypatch):
    clock, store = FakeClock(), FakeReadingStore()
    source = KeptSource(store, [PROBE.address], clock)
    assert source.take(0.5) == []
    monkeypatch.setattr(store, "kept_of", None)
    assert source.take(0.5) == []
    assert clock.elapsed_s() == 1.0


def test_older_words_come_before_what_the_wire_says_now():
    clock, store = FakeClock(), FakeReadingStore()
    store.commit(Batch(unclaimed=(kept(0),)))
    wire = FakeSource(clock)
    wire.say(b'[{"n":"stake/new","u":"Cel","v":16.0}]')
    run(store, clock, [wire])
    order = [one.value for batch in store.batches for one in (*batch.readings, *batch.beside)]
    assert order == [15.0, 16.0]
