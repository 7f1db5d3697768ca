"""Simulated SDI-12 sensors at the far end of a pseudo-terminal, by the specification and with nothing of ours.

Their check is looked up in a table made by long division, another way than the collector goes.
"""

from __future__ import annotations

import os
import select
import threading
import time
import tty
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path


def check(answer: str) -> str:
    """The check of an answer by long division of its bits, the lowest first, by x^16 + x^15 + x^2 + 1."""
    remainder = 0
    for sign in answer:
        for bit in range(8):
            take = (remainder ^ (ord(sign) >> bit)) & 1
            remainder = (remainder >> 1) ^ (0xA001 if take else 0)
    return chr(0x40 | remainder >> 12) + chr(0x40 | remainder >> 6 & 0x3F) + chr(0x40 | remainder & 0x3F)


@dataclass
class Sensor:
    """One sensor: what it gives to each M or C command, in how many seconds, how many values an answer holds."""

    gives: Callable[[], list[str]]
    ready_s: int = 0
    each: int = 3
    spoils: list[str] = field(default_factory=list)  # what to spoil of its next answers: "check", "noise", "silence", "half"
    dead: bool = False
    asked: list[str] = field(default_factory=list)
    _found: list[str] = field(default_factory=list)
    _checked: bool = False

    def answer(self, command: str) -> str | None:
        """To a command without its address and end."""
        self.asked.append(command)
        if self.dead:
            return None
        if command[:1] in ("M", "C"):
            self._checked, self._found = command[1:2] == "C", self.gives()
            return f"{self.ready_s:03d}{len(self._found):0{1 if command[0] == 'M' else 2}d}"
        if command[:1] == "D":
            some = self._found[int(command[1]) * self.each :][: self.each]
            return "".join(some)
        return ""

    def checks(self, command: str) -> bool:
        return command.startswith("D") and self._checked


class Bus:
    """An adapter at `path` with sensors by their addresses, up between `with` and its end."""

    def __init__(self, path: Path, sensors: dict[str, Sensor], *, repeats: bool = False) -> None:
        self.path, self.sensors, self.repeats = path, sensors, repeats
        self._stop = threading.Event()

    def __enter__(self) -> Bus:
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.path.symlink_to(os.ttyname(self._slave))
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join(5)
        os.close(self._slave)
        os.close(self._master)
        self.path.unlink(missing_ok=True)

    def _serve(self) -> None:
        text = b""
        while not self._stop.is_set():
            if not select.select([self._master], [], [], 0.05)[0]:
                continue
            text += os.read(self._master, 256)
            while b"!" in text:
                command, _, text = text.partition(b"!")
                self._obey(command.lstrip(b"\0\n\r").decode("ascii", "replace"))

    def _obey(self, command: str) -> None:
        sensor = self.sensors.get(command[:1])
        answer = None if sensor is None else sensor.answer(command[1:])
        said = command + "!" if self.repeats else ""
        if sensor is not None and answer is not None:
            whole = command[0] + answer
            whole += check(whole) if sensor.checks(command[1:]) else ""
            spoil = sensor.spoils.pop(0) if sensor.spoils else ""
            said += {
                "": whole + "\r\n",
                "check": whole[:-1] + "~\r\n",
                "noise": "\xff\x00" + whole + "\r\n",
                "half": whole[:2],
            }.get(spoil, "")
        if said:
            os.write(self._master, said.encode("latin-1"))
        if sensor is not None and answer is not None and command[1:2] == "M" and sensor.ready_s and sensor._found:
            time.sleep(0.2)
            os.write(self._master, (command[0] + "\r\n").encode())  # done early: a service request
