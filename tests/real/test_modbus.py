"""Modbus RTU devices behind a pair of pseudo-terminals; pymodbus's own server answers for them."""

import os
import select
import subprocess
import sys
import threading
import tty

import pytest

from collector.clock import SystemClock
from collector.settings import ModbusRegister, ModbusSettings
from collector.sources import polled
from collector.sources.modbus import ModbusBus
from collector.sources.polled import PolledSource
from tests.real.mosquitto import wait_until
from tests.real.test_sdi12 import readings_of, said

SERVER = """
import sys
from pymodbus.server import StartSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice
from pymodbus import FramerType
def registers(*values):
    return [SimData(0, values=list(values), datatype=DataType.REGISTERS)]
bits = [SimData(0, values=False, datatype=DataType.BITS)]
soil = SimDevice(1, simdata=(bits, bits, registers(7, 3), registers(142, 65505, 0x4164, 0x0000)))
air = SimDevice(9, simdata=registers(215))
StartSerialServer([soil, air], port=sys.argv[1], framer=FramerType.RTU, baudrate=9600)
"""


class Cable:
    """Two pseudo-terminals joined into a cable, on which answers may be spoilt and a device be cut off."""

    def __init__(self, folder):
        self.ends = [folder / "tty", folder / "tty-far"]
        self.spoil, self.cut_off = 0, None
        self._stop = threading.Event()

    def __enter__(self):
        self._pairs = [os.openpty() for _ in self.ends]
        for (_, slave), end in zip(self._pairs, self.ends, strict=True):
            tty.setraw(slave)
            end.symlink_to(os.ttyname(slave))
        threading.Thread(target=self._carry, daemon=True).start()
        return self

    def __exit__(self, *_):
        self._stop.set()
        for end in self.ends:
            end.unlink()

    def _carry(self):
        near, far = (master for master, _ in self._pairs)
        while not self._stop.is_set():
            ready, _, _ = select.select([near, far], [], [], 0.05)
            for one in ready:
                data = os.read(one, 256)
                if one == near and data[0] == self.cut_off:
                    continue
                if one == far and self.spoil:
                    self.spoil -= 1
                    data = bytes([data[0] ^ 0x10]) + data[1:]
                os.write(far if one == near else near, data)


@pytest.fixture
def cable(tmp_path):
    with Cable(tmp_path) as one:
        server = subprocess.Popen([sys.executable, "-c", SERVER, str(one.ends[1])], stderr=subprocess.PIPE)
        yield one
        server.terminate()
        server.wait(10)
        server.stderr.close()


@pytest.fixture
def opened(cable, monkeypatch):
    monkeypatch.setattr(polled, "REOPEN_S", 0.1)
    sources = []

    def open_one(*registers, every_s=0.5):
        sources.append(PolledSource(ModbusBus(ModbusSettings(str(cable.ends[0]), registers)), every_s, SystemClock()))
        return sources[-1]

    yield open_one
    for source in sources:
        source.close()


def register(address, place, **more):
    told = {"device": 1, "kind": "input", "type": "int16", "unit": "Cel", "scale": 0.1} | more
    return ModbusRegister(told["device"], place, told["kind"], told["type"], told["unit"], address, told["scale"])


def test_registers_of_each_type_are_read_and_scaled(opened):
    source = opened(
        register("soil/t", 0),
        register("soil/cold", 1),
        register("soil/float", 2, type="float32", scale=1.0),
        register("soil/wet", 0, kind="holding", type="uint16", unit="/100", scale=1.0),
        register("soil/both", 0, kind="holding", type="uint32", unit="count", scale=1.0),
    )
    store = readings_of(source, 5, 20)
    # 142 and 65505 as signed tenths; 0x41640000 is 14.25 (IEEE 754); 7 and 3 as the high and the low word
    assert said(store)[:5] == [
        ("soil/t", "Cel", pytest.approx(14.2)),
        ("soil/cold", "Cel", pytest.approx(-3.1)),
        ("soil/float", "Cel", 14.25),
        ("soil/wet", "/100", 7.0),
        ("soil/both", "count", 7 * 65536 + 3),
    ]
    assert source.trouble is None


def test_a_dead_device_is_told_and_does_not_starve_the_others(opened, cable):
    cable.cut_off = 4
    source = opened(register("dead", 0, device=4), register("soil/t", 0), register("air/t", 0, device=9))
    store = readings_of(source, 8, 30)
    assert {address for address, *_ in said(store)} == {"soil/t", "air/t"}
    assert source.trouble.startswith("Modbus device 4: input register 0: no answer that can be read")


def test_a_register_that_is_not_there_is_told(opened):
    source = opened(register("none", 400))
    wait_until(lambda: source.take(0.1) is None or source.trouble, 20)
    assert "it answers with an error" in source.trouble
    assert "does it have that register?" in source.trouble


def test_an_answer_that_is_spoilt_brings_no_wrong_number(opened, cable):
    source = opened(register("soil/t", 0))
    readings_of(source, 1, 20)
    cable.spoil = 3
    store = readings_of(source, 3, 30)
    assert [value for _, _, value in said(store)] == [pytest.approx(14.2)] * len(said(store))
