"""SDI-12: what a sensor answers, as bytes to numbers, and how it is asked. It touches no wire and no clock.

Source: SDI-12 Support Group, SDI-12 specification, version 1.4, section 4.4 (second-hand, as public test suites quote it).
"""

from __future__ import annotations

import re
from collections.abc import Generator, Sequence
from dataclasses import dataclass

from collector.errors import DecodeError

ADDRESSES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
COMMAND = re.compile(r"[MC][1-9]?")
# A sensor begins to answer within 15 ms; an adapter takes its own time. Common practice, no source.
ANSWER_S = 1.0
TRIES = 3
_VALUE = re.compile(r"[+-]\d{1,7}(?:\.\d{1,7})?|[+-]\.\d{1,7}")
_MOST_DATA = 10  # D0 to D9
_CRC_CHARACTERS = 3


@dataclass(frozen=True, slots=True)
class Ask:
    """Send these bytes, and give back the line that comes within so long [s], without its end; empty where none does."""

    command: bytes
    within_s: float


@dataclass(frozen=True, slots=True)
class Await:
    """Give back the line that comes within so long [s]; empty where none does: a sensor that is done early says so."""

    within_s: float


Talk = Generator[Ask | Await, bytes, list[float]]


def crc(data: bytes) -> str:
    """The three characters that stand for the check of an answer (section 4.4.12): CRC-16 with 0xA001 reflected, begun with 0."""
    register = 0
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = (register >> 1) ^ 0xA001 if register & 1 else register >> 1
    return "".join(chr(0x40 | register >> shift & 0x3F) for shift in (12, 6, 0))


def answer_of(line: bytes, address: str, *, checked: bool) -> str:
    """What an answer says after its address; its check is looked at and taken off where there is one.

    Raises DecodeError for no answer, one of another sensor, one that is not of printable ASCII, and a check that is wrong.
    """
    if not line:
        raise DecodeError(f"sensor {address} does not answer")
    if not all(32 <= byte < 127 for byte in line):
        raise DecodeError(f"sensor {address}: {line[:40]!r} is no answer; is the line noisy, or the baud rate another?")
    text = line.decode("ascii")
    if checked:
        body, told = text[:-_CRC_CHARACTERS], text[-_CRC_CHARACTERS:]
        wanted = crc(body.encode("ascii"))
        if told != wanted:
            raise DecodeError(f"sensor {address}: {text[:40]!r} has the check {told!r}; want {wanted!r}")
        text = body
    if not text.startswith(address):
        raise DecodeError(f"sensor {address}: {text[:40]!r} is the answer of another")
    return text[1:]


def values_of(text: str) -> list[float]:
    """The numbers of an answer, each with its sign. Raises DecodeError for anything else between them."""
    found = _VALUE.findall(text)
    if "".join(found) != text:
        raise DecodeError(f"{text[:40]!r} is no row of numbers with their signs, as +18.25-0.4")
    return [float(one) for one in found]


def measure(address: str, command: str, *, checked: bool) -> Talk:
    """Talk with a sensor: start a measurement, wait until it is ready, fetch what it measured.

    Args:
        address: of the sensor.
        command: M, M1 to M9, C or C1 to C9.
        checked: whether answers are to carry a check.

    Raises DecodeError, in a sentence, for a sensor that does not answer or answers nonsense, each asked up to three times.
    """
    start = f"{address}{command[0]}{'C' if checked else ''}{command[1:]}!".encode("ascii")
    told = yield from _asked(start, address, checked=False)
    digits = 2 if command.startswith("C") else 1
    if re.fullmatch(rf"\d{{3}}\d{{1,{digits}}}", told) is None:
        raise DecodeError(f"sensor {address}: {told[:40]!r} does not say when how many values are ready")
    ready_s, count = int(told[:3]), int(told[3:])
    if ready_s:
        yield Await(ready_s + ANSWER_S)  # a concurrent one says nothing when it is done
    values: list[float] = []
    for number in range(_MOST_DATA):
        if len(values) >= count:
            break
        more = values_of((yield from _asked(f"{address}D{number}!".encode("ascii"), address, checked=checked)))
        if not more:
            break
        values += more
    if len(values) != count:
        raise DecodeError(f"sensor {address}: it said {count} values, and gave {len(values)}")
    return values


def _asked(command: bytes, address: str, *, checked: bool) -> Generator[Ask | Await, bytes, str]:
    """An answer that is sound; an adapter that repeats what was sent is forgiven."""
    for tried in range(1, TRIES + 1):
        line = yield Ask(command, ANSWER_S)
        try:
            return answer_of(line.removeprefix(command), address, checked=checked)
        except DecodeError:
            if tried == TRIES:
                raise
    raise AssertionError  # the last try has returned or raised


def paired(values: Sequence[float], units: Sequence[str]) -> list[tuple[int, str, float]]:
    """Place from 1, unit and value of each; an empty unit passes one over. Raises DecodeError where they are not as many."""
    if len(values) != len(units):
        raise DecodeError(f"it gave {len(values)} values, and the garden file names {len(units)} units")
    return [(place, unit, value) for place, (unit, value) in enumerate(zip(units, values, strict=True), start=1) if unit]
