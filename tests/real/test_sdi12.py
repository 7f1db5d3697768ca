"""An SDI-12 bus behind a pseudo-terminal: measured values, checks, noise, a dead sensor that starves nobody, a cable pulled."""

import time

import pytest

from collector.clock import SystemClock
from collector.intake import Intake
from collector.model import Probe
from collector.settings import Sdi12Sensor, Sdi12Settings
from collector.sources import polled
from collector.sources.polled import PolledSource
from collector.sources.sdi12 import Sdi12Bus
from collector.units import Quantity
from tests.fakes import FakeReadingStore
from tests.real.mosquitto import wait_until
from tests.real.sdi12_sensors import Bus, Sensor, check


@pytest.fixture
def opened(tmp_path, monkeypatch):
    """Opens a source of the port `tty` with some sensors, asked twice a second."""
    monkeypatch.setattr("collector.decode.sdi12.ANSWER_S", 0.3)
    monkeypatch.setattr(polled, "REOPEN_S", 0.1)
    sources = []

    def open_one(*sensors, every_s=0.5, **more):
        settings = Sdi12Settings(str(tmp_path / "tty"), sensors, **more)
        sources.append(PolledSource(Sdi12Bus(settings, SystemClock()), every_s, SystemClock()))
        return sources[-1]

    yield open_one
    for source in sources:
        source.close()


def readings_of(source, count, within_s=15.0, probes=()):
    """The readings that come of it, by address, through the intake."""
    store = FakeReadingStore()
    intake = Intake([source], store, probes, SystemClock())
    wait_until(
        lambda: intake.step(0.05) < 0 or sum(len(batch.unclaimed) + len(batch.readings) for batch in store.batches) >= count,
        within_s,
    )
    return store


def said(store):
    return [(one.address, one.unit, one.value) for batch in store.batches for one in batch.unclaimed]


SOIL = Sdi12Sensor("0", ("Cel", "", "/"))


@pytest.mark.parametrize("command", ["M", "M1", "C", "C9"])
@pytest.mark.parametrize("crc", [True, False])
@pytest.mark.parametrize("ready_s", [0, 1])
def test_a_sensor_is_asked_waited_for_and_its_values_come_in(opened, tmp_path, command, crc, ready_s):
    sensor = Sensor(lambda: ["+14.25", "-3", "+0.213"], ready_s, each=2)
    with Bus(tmp_path / "tty", {"0": sensor}):
        source = opened(Sdi12Sensor("0", ("Cel", "", "/"), command), crc=crc)
        store = readings_of(source, 2)
        assert said(store)[:2] == [("sdi12:0/1", "Cel", 14.25), ("sdi12:0/3", "/", 0.213)]
        assert source.trouble is None
    asked = f"{command[0]}C{command[1:]}" if crc else command
    assert sensor.asked[:3] == [asked, "D0", "D1"]


def test_its_values_are_readings_of_probes_by_their_addresses(opened, tmp_path):
    probe = Probe("t", "bed", Quantity.SOIL_TEMPERATURE, "bed7:a/1", 0.12)
    with Bus(tmp_path / "tty", {"a": Sensor(lambda: ["+14.25"])}):
        store = readings_of(opened(Sdi12Sensor("a", ("Cel",)), name="bed7"), 1, probes=[probe])
    assert [(one.probe_id, one.value) for one in store.readings.values()][:1] == [("t", 14.25)]


@pytest.mark.parametrize("spoil", ["check", "noise", "silence", "half"])
def test_an_answer_that_is_spoilt_is_asked_for_again_and_no_wrong_number_comes_of_it(opened, tmp_path, spoil):
    sensor = Sensor(lambda: ["+14.25"], spoils=["", spoil, spoil])
    with Bus(tmp_path / "tty", {"0": sensor}):
        source = opened(Sdi12Sensor("0", ("Cel",)))
        assert said(readings_of(source, 1))[:1] == [("sdi12:0/1", "Cel", 14.25)]
    assert sensor.asked[:4] == ["MC", "D0", "D0", "D0"]


def test_an_adapter_that_repeats_what_it_is_sent_is_understood(opened, tmp_path):
    with Bus(tmp_path / "tty", {"0": Sensor(lambda: ["+14.25"])}, repeats=True):
        assert said(readings_of(opened(Sdi12Sensor("0", ("Cel",))), 1))[:1] == [("sdi12:0/1", "Cel", 14.25)]


def test_a_dead_sensor_is_told_and_does_not_starve_the_others(opened, tmp_path):
    dead, well = Sensor(lambda: ["+1"], dead=True), Sensor(lambda: ["+14.25"])
    with Bus(tmp_path / "tty", {"3": dead, "5": well}):
        source = opened(Sdi12Sensor("3", ("Cel",)), Sdi12Sensor("5", ("Cel",)))
        begun = time.monotonic()
        store = readings_of(source, 8, 20)
        took_s = time.monotonic() - begun
        assert source.trouble == "SDI-12 sensor 3: sensor 3 does not answer"
        assert {address for address, *_ in said(store)} == {"sdi12:5/1"}
        # asked less and less: three tries each at first, then after 1, 2, 4 s
        assert took_s < 8
        assert len(dead.asked) <= 15
        dead.dead = False
        wait_until(lambda: source.take(0.05) is None or source.trouble is None, 15)


def test_more_or_fewer_values_than_units_are_told(opened, tmp_path):
    with Bus(tmp_path / "tty", {"0": Sensor(lambda: ["+14.25"])}):
        source = opened(SOIL)
        source.take(0.1)
        assert source.trouble == "SDI-12 sensor 0: it gave 1 values, and the garden file names 3 units"


def test_a_cable_that_is_pulled_and_put_back_is_told_and_goes_on(opened, tmp_path):
    sensors = {"0": Sensor(lambda: ["+14.25"])}
    with Bus(tmp_path / "tty", sensors):
        source = opened(Sdi12Sensor("0", ("Cel",)))
        readings_of(source, 1)
    wait_until(lambda: source.take(0.05) is None or "trying again" in (source.trouble or ""), 10)
    with Bus(tmp_path / "tty", sensors):
        wait_until(lambda: source.trouble is None, 10)
        assert len(said(readings_of(source, 2))) >= 2


def test_a_port_that_is_not_there_is_told(opened):
    source = opened(SOIL)
    source.take(0)
    assert "could not open port" in source.trouble


def test_a_port_is_opened_again_and_again_as_by_check_and_then_the_collector(opened, tmp_path):
    with Bus(tmp_path / "tty", {"0": Sensor(lambda: ["+14.25"])}):
        for _ in range(3):
            source = opened(Sdi12Sensor("0", ("Cel",)))
            assert said(readings_of(source, 1))[:1] == [("sdi12:0/1", "Cel", 14.25)]
            source.close()


def test_the_sensors_own_check_is_that_of_the_specification():
    # specification 1.4, section 4.4.12 (second-hand): the peer of these tests must be right by itself
    assert [check(answer) for answer in ("0+3.14", "0+7.77+8.88+9.99", "0")] == ["OqZ", "IvW", "AP@"]
