"""An SDI-12 bus behind a serial adapter."""

from __future__ import annotations

import termios
from collections.abc import Sequence

import serial

from collector.decode import sdi12
from collector.ports import Clock
from collector.settings import Sdi12Settings, frame_of
from collector.sources.polled import Said

# What wakes the sensors: at least 12 ms of spacing, then 8.33 ms of marking (specification 1.4, section 7; from memory).
BREAK_S = 0.0125
_END = b"\r\n"
_LONGEST = 256  # bytes of an answer; those of a data command have 75 at most


class Sdi12Bus:
    """A `polled.Bus` of SDI-12 sensors."""

    def __init__(self, settings: Sdi12Settings, clock: Clock) -> None:
        """Nothing is opened yet."""
        self._settings = settings
        self._clock = clock
        self._port: serial.Serial | None = None

    @property
    def name(self) -> str:
        """`sdi12 PORT`."""
        return f"sdi12 {self._settings.port}"

    @property
    def devices(self) -> Sequence[str]:
        """Its sensors by their addresses."""
        return [f"SDI-12 sensor {one.address}" for one in self._settings.sensors]

    def open(self) -> None:
        """Open the port, or raise OSError."""
        try:
            self._port = self._opened(*frame_of(self._settings.frame))
        except termios.error:  # a pseudo-terminal knows no parity, and says so the second time that it is asked for it
            self._port = self._opened(*frame_of("8N1"))

    def _opened(self, bits: int, parity: str, stop: int) -> serial.Serial:
        return serial.Serial(self._settings.port, self._settings.baud, bits, parity, stop, timeout=0.05, exclusive=True)

    def ask(self, device: int) -> Sequence[Said]:
        """What a sensor measures now."""
        sensor = self._settings.sensors[device]
        talk = sdi12.measure(sensor.address, sensor.command, checked=self._settings.crc)
        step = next(talk)
        while True:
            try:
                step = talk.send(self._line(step))
            except StopIteration as done:
                values = done.value
                break
        return [
            Said(f"{self._settings.name}:{sensor.address}/{place}", unit, value)
            for place, unit, value in sdi12.paired(values, sensor.units)
        ]

    def close(self) -> None:
        """Let go of the port."""
        if self._port is not None:
            self._port.close()
            self._port = None

    def _line(self, step: sdi12.Ask | sdi12.Await) -> bytes:
        port = self._port
        assert port is not None
        if isinstance(step, sdi12.Ask):
            port.reset_input_buffer()  # an answer that came too late is none to this
            port.send_break(BREAK_S)
            port.write(step.command)
        until_s = self._clock.elapsed_s() + step.within_s
        got = b""
        while _END not in got and len(got) < _LONGEST and self._clock.elapsed_s() < until_s:
            got += port.read(max(1, port.in_waiting))
        return got.split(_END, 1)[0]
