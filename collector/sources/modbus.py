"""Modbus RTU devices on a serial port: registers read with pymodbus."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from typing import Literal

from pymodbus import FramerType, ModbusException
from pymodbus.client import ModbusSerialClient

from collector.errors import DecodeError
from collector.settings import ModbusRegister, ModbusSettings, frame_of
from collector.sources.polled import Said

# It logs each answer that does not come; what is wrong is told by the source.
logging.getLogger("pymodbus.logging").setLevel(logging.CRITICAL)

# How long a device may take to answer, and how often it is asked again; the guide of serial lines names 1 s (from memory).
ANSWER_S, RETRIES = 0.5, 1


class ModbusBus:
    """A `polled.Bus` of Modbus RTU devices; each is asked for all of its registers."""

    def __init__(self, settings: ModbusSettings) -> None:
        """Nothing is opened yet."""
        self._settings = settings
        self._numbers = sorted({one.device for one in settings.registers})
        self._client: ModbusSerialClient | None = None

    @property
    def name(self) -> str:
        """`modbus PORT`."""
        return f"modbus {self._settings.port}"

    @property
    def devices(self) -> Sequence[str]:
        """Its devices by their numbers."""
        return [f"Modbus device {number}" for number in self._numbers]

    def open(self) -> None:
        """Open the port, or raise OSError."""
        bits, parity, stop = frame_of(self._settings.frame)
        self._client = ModbusSerialClient(
            self._settings.port,
            framer=FramerType.RTU,
            baudrate=self._settings.baud,
            bytesize=bits,
            parity=parity,
            stopbits=stop,
            timeout=ANSWER_S,
            retries=RETRIES,
        )
        if not self._client.connect():
            raise OSError(f"{self._settings.port} cannot be opened: is it plugged in, and may this user open it?")

    def ask(self, device: int) -> Sequence[Said]:
        """What a device has in its registers now."""
        number = self._numbers[device]
        return [self._said(one) for one in self._settings.registers if one.device == number]

    def close(self) -> None:
        """Let go of the port."""
        if self._client is not None:
            self._client.close()  # type: ignore[no-untyped-call]
            self._client = None

    def _said(self, one: ModbusRegister) -> Said:
        client = self._client
        assert client is not None
        read = client.read_input_registers if one.kind == "input" else client.read_holding_registers
        what = f"{one.kind} register {one.register}"
        type_ = client.DATATYPE[one.type.upper()]
        try:
            answer = read(one.register, count=type_.value[1], device_id=one.device)
        except ModbusException as error:
            if not client.connected:
                raise OSError(f"{self._settings.port} has gone") from error
            raise DecodeError(f"{what}: no answer that can be read ({error})") from error
        if answer.isError():
            raise DecodeError(f"{what}: it answers with an error ({answer}); does it have that register?")
        word_order: Literal["big", "little"] = "little" if self._settings.word_order == "little" else "big"
        value = client.convert_from_registers(answer.registers, type_, word_order)
        if not isinstance(value, int | float):
            raise DecodeError(f"{what}: {value!r} is no number")
        return Said(one.address, one.unit, value * one.scale)
