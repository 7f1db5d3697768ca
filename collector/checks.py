"""Is this reading plausible? A pure step per probe: flags tell what is odd and drop nothing.

The thresholds are common practice with no source unless one is named beside them. They are set so that a
sound probe in a garden is never flagged: a check that cries wolf is soon not read.
"""

from __future__ import annotations

import math
from functools import lru_cache

import msgspec

from collector.model import DISTRUSTED, Flag, Probe, Reading
from collector.units import UNIT_RULES, Quantity

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS

# Clocks of small boards drift by seconds a day; more than this is a clock that was never set.
FUTURE_AFTER_MS = 5 * MINUTE_MS
# A season and its fallow fit into 400 days; an older time is a wrong clock, or belongs into an import.
LONG_AGO_MS = 400 * DAY_MS
# No board keeps readings back for half a year and then sends them: one that falls back so far lost its clock.
FALLEN_BACK_MS = 180 * DAY_MS

# Power-on value of the temperature register: DS18B20 data sheet (Maxim Integrated), table 1, note: 0550h, +85 °C.
RESET_VALUE_C = 85.0
# A thermometer that truly warms to 85 °C has been seen near it before; soil and air outdoors never are.
RESET_NEAR_K = 10.0
# What libraries that read the bus say when the thermometer does not answer: a convention, from memory.
DISCONNECTED_C = -127.0
# Half the last digit of the thermometer, 1/16 K (data sheet, table 1): room for a unit converted on the way.
_SAME_K = 1 / 32

_TEMPERATURES = frozenset({Quantity.SOIL_TEMPERATURE, Quantity.AIR_TEMPERATURE})

# The very same number for so long, in at least so many readings. Temperature in a bed moves through several
# steps of 1/16 K a day; water in soil may truly stand still for days. Rain, sun, wind and a battery rest for weeks.
_STUCK_AFTER_MS = {
    Quantity.SOIL_TEMPERATURE: 48 * HOUR_MS,
    Quantity.AIR_TEMPERATURE: 48 * HOUR_MS,
    Quantity.SOIL_MOISTURE: 7 * DAY_MS,
}
STUCK_READINGS = 24


class ProbeMemory(msgspec.Struct, frozen=True, gc=False):  # made for every reading: a tenth of a dataclass's time
    """What is remembered of a probe between two readings.

    `newest_ms` and `value` are of its newest reading with a believable time, `flags` what was found then; the
    same value has stood since `same_since_ms` for `same_count` readings. `trusted_ms` and `trusted_value` are of
    the newest reading that may speak for the soil; None where there is none yet.
    """

    newest_ms: int
    value: float
    flags: Flag
    same_since_ms: int
    same_count: int
    trusted_ms: int | None
    trusted_value: float


def is_future(measured_ms: int, now_ms: int) -> bool:
    """True where that time is still to come, and by more than a clock drifts."""
    return measured_ms > now_ms + FUTURE_AFTER_MS


def remember(reading: Reading) -> ProbeMemory | None:
    """Memory from the newest stored reading of a probe; None where its time was not believed."""
    if not reading.time_believed:
        return None
    at_ms, value = reading.measured_ms, reading.value
    stuck = bool(reading.flags & Flag.STUCK)
    return ProbeMemory(
        newest_ms=at_ms,
        value=value,
        flags=reading.flags,
        same_since_ms=at_ms - max(_STUCK_AFTER_MS.values()) if stuck else at_ms,
        same_count=STUCK_READINGS if stuck else 1,
        trusted_ms=at_ms if reading.trusted else None,
        trusted_value=value,
    )


def check(
    memory: ProbeMemory | None, probe: Probe, measured_ms: int, value: float, now_ms: int
) -> tuple[ProbeMemory | None, Flag]:
    """The memory after this reading, and what is odd about it.

    Args:
        memory: what is remembered of this probe; None before its first reading.
        probe: whose reading it is.
        measured_ms, now_ms: when it was measured, and now [ms since 1970-01-01 UTC].
        value: in the one unit of the probe's quantity.

    A reading older than the newest is checked by itself only, and changes no memory; the newest one, come
    again, gets the flags it had.
    """
    low, high = UNIT_RULES[probe.quantity].plausible
    flags = Flag.NONE if low <= value <= high else alone(memory, probe, value)
    if measured_ms > now_ms + FUTURE_AFTER_MS:
        return memory, flags | Flag.FUTURE
    if measured_ms < now_ms - LONG_AGO_MS or (memory is not None and measured_ms < memory.newest_ms - FALLEN_BACK_MS):
        return memory, flags | Flag.LONG_AGO
    if memory is not None and measured_ms <= memory.newest_ms:
        again = measured_ms == memory.newest_ms and value == memory.value
        return memory, memory.flags if again else flags

    same_since_ms, same_count = measured_ms, 1
    if memory is not None:
        if value == memory.value:
            same_since_ms, same_count = memory.same_since_ms, memory.same_count + 1
            stuck_after_ms = _STUCK_AFTER_MS.get(probe.quantity)
            if stuck_after_ms is not None and same_count >= STUCK_READINGS and measured_ms - same_since_ms >= stuck_after_ms:
                flags |= Flag.STUCK
        if not (flags and flags & DISTRUSTED) and memory.trusted_ms is not None:  # `and` first: few have a flag, and & is slow
            rise, fall, an_hour = _may_move(probe.quantity, probe.depth_m)
            step, more = value - memory.trusted_value, an_hour * (measured_ms - memory.trusted_ms) / HOUR_MS
            if step > rise + more or -step > fall + more:
                flags |= Flag.JUMP

    trusted: tuple[int | None, float] = (measured_ms, value)
    if flags and flags & DISTRUSTED:
        trusted = (memory.trusted_ms, memory.trusted_value) if memory else (None, value)
    return ProbeMemory(measured_ms, value, flags, same_since_ms, same_count, *trusted), flags


def of_time(measured_ms: int, now_ms: int) -> Flag:
    """What is odd about a time alone [ms since 1970 UTC], where the number tells nothing yet."""
    if is_future(measured_ms, now_ms):
        return Flag.FUTURE
    return Flag.LONG_AGO if measured_ms < now_ms - LONG_AGO_MS else Flag.NONE


def check_imported(
    memory: ProbeMemory | None, probe: Probe, measured_ms: int, value: float, now_ms: int
) -> tuple[ProbeMemory | None, Flag]:
    """As `check`, for a row of a table: it may be of any year up to now, and stand in any order."""
    if is_future(measured_ms, now_ms):
        return memory, alone(memory, probe, value) | Flag.FUTURE
    if memory is not None and measured_ms < memory.newest_ms:
        return memory, alone(memory, probe, value)
    return check(memory, probe, measured_ms, value, measured_ms)


def alone(memory: ProbeMemory | None, probe: Probe, value: float) -> Flag:
    """What is odd about the number itself, whenever it was measured."""
    low, high = UNIT_RULES[probe.quantity].plausible
    if low <= value <= high:
        return Flag.NONE
    flags = Flag.OUT_OF_RANGE
    if probe.quantity in _TEMPERATURES:
        if abs(value - DISCONNECTED_C) < _SAME_K:
            flags |= Flag.DISCONNECTED
        if abs(value - RESET_VALUE_C) < _SAME_K and not _was_near_reset(memory):
            flags |= Flag.RESET_VALUE
    return flags


def _was_near_reset(memory: ProbeMemory | None) -> bool:
    """True where the probe truly came close to 85 °C before: hot, and not by a reset."""
    return memory is not None and not memory.flags & Flag.RESET_VALUE and abs(memory.value - RESET_VALUE_C) <= RESET_NEAR_K


@lru_cache(maxsize=4096)  # a garden asks of the same few probes again and again
def _may_move(quantity: Quantity, depth_m: float | None) -> tuple[float, float, float]:
    """How far a quantity may rise and fall at once, and further for each hour, in its unit. After a long gap nothing jumps.

    A daily wave of amplitude A moves at most 2 pi A / 24 h: 5 K/h for a bare dry surface with A = 20 K, 1.5 K/h
    where it is damped to 6 K some 10 cm down. The rates of soil are about twice that, the rest is for cold water. A
    thunderstorm's outflow cools the air by some 10 K within minutes. Water comes at once, but drains through soil: a sudden
    fall of moisture is a probe that was pulled or lost contact.
    """
    if quantity is Quantity.SOIL_TEMPERATURE:
        if depth_m is None or depth_m < 0.05:
            return 8.0, 8.0, 10.0
        return (6.0, 6.0, 4.0) if depth_m < 0.15 else (4.0, 4.0, 2.0)
    if quantity is Quantity.AIR_TEMPERATURE:
        return 12.0, 12.0, 8.0
    if quantity is Quantity.SOIL_MOISTURE:
        return math.inf, 0.15, 0.05
    return math.inf, math.inf, 0.0
