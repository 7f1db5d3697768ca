"""Serial lines over pseudo-terminals: half lines, noise, a port that goes and comes back."""

from __future__ import annotations

import os
import threading
import time
import tty
from pathlib import Path

import pytest

from collector.clock import SystemClock
from collector.intake import Intake
from collector.model import PAYLOAD_LIMIT_BYTES, Envelope, Probe
from collector.settings import SerialSettings
from collector.sources.serial_lines import SerialSource
from collector.units import Quantity
from tests.fakes import FakeReadingStore


class Device:
    """A device at the far end of a wire, plugged in at `path`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._master = self._slave = -1

    def plug_in(self) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.path.symlink_to(os.ttyname(self._slave))

    def say(self, text: bytes) -> None:
        while text:  # the kernel keeps a few kilobytes only
            text = text[os.write(self._master, text[:1024]) :]

    def unplug(self) -> None:
        self.path.unlink()
        os.close(self._master)
        os.close(self._slave)
        self._master = self._slave = -1


@pytest.fixture
def device(tmp_path):
    one = Device(tmp_path / "ttyUSB0")
    one.plug_in()
    yield one
    if one.path.is_symlink():
        one.unplug()


@pytest.fixture
def open_source(device):
    opened = []

    def open_one(**limits) -> SerialSource:
        opened.append(SerialSource(SerialSettings(str(device.path)), SystemClock(), **limits))
        return opened[-1]

    yield open_one
    for source in opened:
        source.close()


def until(true, seconds=5.0):
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, f"not within {seconds} s"


def take(source, count, seconds=5.0) -> list[Envelope]:
    came: list[Envelope] = []
    until(lambda: came.extend(source.take(0.05)) or len(came) >= count, seconds)
    return came


def started(source) -> SerialSource:
    """The source, once it has the port open."""
    assert source.take(0) == []
    assert source.trouble is None
    return source


def test_half_lines_become_whole_ones_in_order_with_their_port_and_no_number(device, open_source):
    source = started(open_source())
    came: list[Envelope] = []
    for piece in (b"fir", b"st\r", b"\nsecond\nthi", b"rd\n"):
        device.say(piece)
        came += source.take(0.02)  # so that each piece is read by itself
    came += take(source, 3 - len(came))
    assert [one.payload for one in came] == [b"first", b"second", b"third"]
    assert {(one.source, one.delivery) for one in came} == {(f"serial {device.path}", None)}
    assert not source.can_acknowledge
    assert source.trouble is None


def test_bytes_that_are_no_text_come_unchanged(device, open_source):
    source = started(open_source())
    device.say(b"\xff\xfe\x00\x11\x13\x7f\n")
    assert take(source, 1)[0].payload == b"\xff\xfe\x00\x11\x13\x7f"


def test_a_line_that_is_far_too_long_comes_as_its_head_and_length(device, open_source):
    source = started(open_source())
    device.say(b"x" * (PAYLOAD_LIMIT_BYTES + 5000) + b"\nafter\n")
    long, after = take(source, 2)
    assert (len(long.payload), long.size, after.payload) == (PAYLOAD_LIMIT_BYTES, PAYLOAD_LIMIT_BYTES + 5000, b"after")


def test_a_device_that_is_unplugged_is_told_and_read_again_when_it_is_back(device, open_source):
    source = started(open_source())
    device.say(b"before\nhalf a li")
    assert take(source, 1)[0].payload == b"before"
    time.sleep(0.05)
    device.unplug()
    until(lambda: source.take(0.05) is not None and "there is no" in (source.trouble or ""))
    device.plug_in()
    until(lambda: source.trouble is None)
    device.say(b"after\n")
    # The half line stands alone: it must not spoil the first line of the new connection.
    came = take(source, 1)
    until(lambda: came.extend(source.take(0.05)) or came[-1].payload == b"after")
    assert [one.payload for one in came if one.payload != b"half a li"] == [b"after"]


def test_a_port_that_is_not_there_is_told(tmp_path):
    source = SerialSource(SerialSettings(str(tmp_path / "ttyUSB7")), SystemClock())
    assert source.take(0) == []
    assert source.trouble.startswith(f"there is no {tmp_path}/ttyUSB7: plug the device in")
    source.close()


def test_a_port_that_another_program_uses_is_told(device, open_source):
    started(open_source())
    second = open_source()
    assert second.take(0) == []
    assert second.trouble.startswith(f"another program uses {device.path}")


def test_a_full_queue_loses_the_oldest_lines_and_tells_how_many(device, open_source):
    source = started(open_source(queue_lines=10))
    device.say(b"".join(b"%d\n" % number for number in range(50)) + b"end\n")
    until(lambda: source.trouble is not None)
    until(lambda: source._queue[-1].payload == b"end")
    assert source.trouble.startswith("41 lines were lost")
    assert [one.payload for one in take(source, 10)] == [b"%d" % number for number in range(41, 50)] + [b"end"]


def test_a_queue_of_long_lines_is_bounded_by_its_bytes(device, open_source):
    source = started(open_source(queue_bytes=2999))
    device.say((b"x" * 999 + b"\n") * 5 + b"end\n")
    until(lambda: source._queue and source._queue[-1].payload == b"end")
    assert [one.size for one in take(source, 3)] == [999, 999, 3]
    assert "3 lines were lost" in source.trouble


def test_closing_ends_the_thread_and_frees_the_port(device, open_source):
    source = started(open_source())
    source.close()
    source.close()
    assert source.name not in [thread.name for thread in threading.enumerate()]
    assert source.take(0) == []
    started(open_source())


def test_a_wire_with_noise_gives_readings_and_refusals_and_loses_neither(device, open_source):
    source = started(open_source())
    store = FakeReadingStore()
    probe = Probe("t12", "terrace", Quantity.SOIL_TEMPERATURE, "stake:t12", 0.12)
    intake = Intake([source], store, [probe], SystemClock())
    good = b'[{"n":"stake:t12","u":"Cel","v":18}]'
    device.say(good + b"\n" + b"\xff\x00\xfe noise\n" + good[:-5] + b"\n" + good + b"*00\r\n" + good + b"\n")
    until(lambda: intake.step(0.05) is not None and intake.counts.messages == 5)
    assert len(store.readings) == 2
    assert len(store.refusals) == 3


def test_at_the_end_what_the_kernel_still_holds_is_read_and_may_be_taken(device, open_source):
    source = open_source()
    source.take(0.1)
    lines = b"".join(b'{"n":%d}\n' % number for number in range(100))
    device.say(lines)  # far less than a kernel holds, and the reader may not have seen it yet
    source.close()
    said = [envelope.payload for envelope in source.take(0)]
    assert b"\n".join([*said, b""]) == lines


def test_a_file_that_is_no_serial_port_is_told(tmp_path):
    plain = tmp_path / "notes.txt"
    plain.write_text("not a port")
    source = SerialSource(SerialSettings(str(plain)), SystemClock())
    source.take(0.1)
    assert source.trouble == f"{plain} is no serial port; set `port` in the garden file to the device, as /dev/ttyUSB0"
    source.close()
