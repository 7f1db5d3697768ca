"""What a stake does with its readings: keeps them until the broker has confirmed them, and writes them as SenML.

Runs under MicroPython. It touches no pin and no network, so it can be tried anywhere. Times are whole numbers all through:
small boards count with single precision, in which a Unix time is off by a minute.
"""

import struct

# A clock that was never set tells a time before this (2020-09-13).
CLOCK_SET_S = 1600000000
# So many moments are kept while nobody confirms: two weeks of one in ten minutes, in some 100 kB.
MOST_KEPT = 2000
# So many go into one message: far below the 64 KiB that the collector takes.
MOST_SENT = 25


class Stake:
    """The readings that wait, the oldest first: [Unix time or None, seconds since the start, [(probe, unit, value)]]."""

    def __init__(self, name, most_kept=MOST_KEPT):
        self.name = name
        self.dropped = 0
        self._most_kept = most_kept
        self._waiting = []
        self._sent = 0

    def measured(self, values, since_start_s, unix_s=None):
        """Keep what was measured now: [(probe, SenML unit or None, value)]. Where there is no room the oldest goes."""
        self._waiting.append([_clock(unix_s), since_start_s, values])
        while len(self._waiting) > self._most_kept:
            self._waiting.pop(0)
            self._sent = max(0, self._sent - 1)
            self.dropped += 1

    def waiting(self):
        """How many moments wait to be confirmed."""
        return len(self._waiting)

    def message(self, since_start_s, unix_s=None, cbor=False):
        """The oldest that wait, as one message; None where nothing waits. It says the same again until it is confirmed."""
        some = self._waiting[:MOST_SENT]
        self._sent = len(some)
        if not some:
            return None
        now_s = _clock(unix_s)
        records = []
        for moment in some:
            if moment[0] is None and now_s is not None:
                moment[0] = now_s - (since_start_s - moment[1])  # for good: a second message says the same
            time_s = moment[0] if moment[0] is not None else moment[1] - since_start_s
            records += [(probe, unit, value, time_s) for probe, unit, value in moment[2]]
        return _cbor(self.name, records) if cbor else _json(self.name, records)

    def confirmed(self):
        """The last message is at the broker: what was in it need not be kept."""
        self._waiting = self._waiting[self._sent :]
        self._sent = 0

    def dump(self):
        """What is to be written to the flash before a sleep or a reset, a line for each moment.

        One that was measured before the clock was set is left out: after a reset nobody knows when that was.
        """
        lines = []
        for unix_s, _, values in self._waiting:
            if unix_s is not None:
                lines.append("\t".join([str(unix_s)] + ["%s %s %s" % (one[0], one[1] or "-", _number(one[2])) for one in values]))
        return lines

    def load(self, lines):
        """What `dump` wrote; a line that was only half written is passed over."""
        for line in lines:
            parts = line.rstrip("\n").split("\t")
            try:
                values = []
                for part in parts[1:]:
                    probe, unit, value = part.split(" ")
                    values.append((probe, None if unit == "-" else unit, float(value)))
                unix_s = _clock(int(parts[0]))
            except ValueError:
                continue
            if unix_s is not None and values:
                self._waiting.append([unix_s, 0, values])


def checked_line(message):
    """A message as a line for a serial wire, with its check byte."""
    check = 0
    for byte in message:
        check ^= byte
    return message + b"*%02X\n" % check


def _clock(unix_s):
    """The time, or None from a clock that was never set."""
    return unix_s if unix_s is not None and unix_s >= CLOCK_SET_S else None


def _number(value):
    """To four decimals: a sixteenth of a degree, as cheap thermometers tell it, is exact in them."""
    text = "%.4f" % value
    return text.rstrip("0").rstrip(".")


def _json(name, records):
    parts = []
    for probe, unit, value, time_s in records:
        base = "" if parts else '"bn":"%s/",' % name
        told = "" if unit is None else '"u":"%s",' % unit
        when = "" if time_s == 0 else ',"t":%d' % time_s
        parts.append('{%s"n":"%s",%s"v":%s%s}' % (base, probe, told, _number(value), when))
    return ("[" + ",".join(parts) + "]").encode()


def _cbor(name, records):
    out = bytearray(_head(0x80, len(records)))
    for place, (probe, unit, value, time_s) in enumerate(records):
        fields = ([(-2, _text(name + "/"))] if place == 0 else []) + [(0, _text(probe))]
        fields += [] if unit is None else [(1, _text(unit))]
        fields += [(2, b"\xfa" + struct.pack(">f", value))]
        fields += [] if time_s == 0 else [(6, _whole(time_s))]
        out += _head(0xA0, len(fields))
        for label, content in fields:
            out += _whole(label) + content
    return bytes(out)


def _text(text):
    data = text.encode()
    return _head(0x60, len(data)) + data


def _whole(number):
    return _head(0x00, number) if number >= 0 else _head(0x20, -1 - number)


def _head(kind, number):
    """The first bytes of an item: its kind, and a number in as few bytes as it takes (RFC 8949, section 3)."""
    if number < 24:
        return bytes([kind | number])
    if number < 0x100:
        return bytes([kind | 24, number])
    if number < 0x10000:
        return struct.pack(">BH", kind | 25, number)
    return struct.pack(">BI", kind | 26, number)
