"""Whole lines out of a stream of bytes, and the check byte at the end of one. It touches no wire.

A line ends with LF; a CR before it goes too, and empty lines are skipped. A line may end in `*hh`:
the XOR of all bytes before the star, as two hexadecimal digits, the check of NMEA 0183 sentences
(which XOR what stands between `$` and `*`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from operator import xor

from collector.errors import DecodeError
from collector.model import PAYLOAD_LIMIT_BYTES

# A wire that sends noise and never ends a line is cut here, so that it is told at last.
NOISE_LIMIT_BYTES = 16 * PAYLOAD_LIMIT_BYTES


@dataclass(frozen=True, slots=True)
class Line:
    """One line without its end. A line over the limit holds its head; `size` is its true length [bytes]."""

    head: bytes
    size: int


NOTHING = Line(b"", 0)


def take_lines(rest: Line, chunk: bytes) -> tuple[list[Line], Line]:
    """The lines that `chunk` ends, and the unfinished rest; start with `NOTHING`.

    However the stream is cut into chunks, its lines are the same. The rest never holds more than
    `PAYLOAD_LIMIT_BYTES`; `NOISE_LIMIT_BYTES` without a line end count as one line.
    """
    lines: list[Line] = []
    *ended, unfinished = chunk.split(b"\n")
    for piece in ended:
        noise, rest = _grow(rest, piece)
        lines += noise
        lines += whole(rest)
        rest = NOTHING
    noise, rest = _grow(rest, unfinished)
    return lines + noise, rest


def whole(rest: Line) -> list[Line]:
    """The rest as a line of its own (of a wire that has gone, say); none where it is empty."""
    head, size = rest.head, rest.size
    if size == len(head) and head.endswith(b"\r"):
        head, size = head[:-1], size - 1
    return [Line(head, size)] if size else []


def _grow(rest: Line, piece: bytes) -> tuple[list[Line], Line]:
    """`rest` with `piece` behind it, and the noise that had to be cut off before."""
    noise: list[Line] = []
    while rest.size + len(piece) >= NOISE_LIMIT_BYTES:
        room = NOISE_LIMIT_BYTES - rest.size
        noise.append(_join(rest, piece[:room]))
        rest, piece = NOTHING, piece[room:]
    return noise, _join(rest, piece)


def _join(rest: Line, piece: bytes) -> Line:
    room = PAYLOAD_LIMIT_BYTES - len(rest.head)
    return Line(rest.head + piece[:room], rest.size + len(piece))


def check_byte(line: bytes) -> int:
    """XOR of all bytes of `line`, 0 to 255.

    Source: NMEA 0183 (the checksum field), from memory; its sentences are tests.
    """
    return reduce(xor, line, 0)


def without_check(line: bytes) -> bytes:
    """The line without its `*hh`, or as it is where it has none.

    Raises:
        DecodeError: the check does not fit the line, or is not two hexadecimal digits.
    """
    if line.endswith(b"]"):
        return line
    body, star, digits = line.rstrip().rpartition(b"*")
    if not star or b"]" in digits:  # no check: a star within the line is its own affair
        return line
    try:
        got = bytes.fromhex(digits.decode("ascii")) if len(digits) == 2 else b""
    except ValueError:
        got = b""
    if len(got) != 1:
        raise DecodeError(f"check {digits[:8]!r} after the star; want two hexadecimal digits")
    wanted = check_byte(body)
    if got[0] != wanted:
        raise DecodeError(f"check byte {got[0]:02X} does not fit the line, which has {wanted:02X}: it was disturbed on its way")
    return body
