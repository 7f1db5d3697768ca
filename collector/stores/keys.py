"""What one key may hold: the rules by which a reading meets what stands at its probe and time, in SQL and in Python."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec.structs import replace

from collector.model import UNBELIEVED_TIME, Flag, Reading

# A reading with an unbelievable time that comes twice within this span was sent twice; later, its board started anew.
SENT_TWICE_MS = 60_000

# For an UPSERT. The same number sent again keeps what the checks found when it first came: they knew its neighbours then.
# Its time is believed once it was ever believed: our own clock may have been wrong one of the times.
FLAGS_KEPT = f"""CASE WHEN value = excluded.value AND raw IS excluded.raw
            THEN ((flags | excluded.flags) & ~{int(UNBELIEVED_TIME)}) | (flags & excluded.flags)
            ELSE excluded.flags END"""

_FUTURE = int(Flag.FUTURE)


def with_flags_kept(one: Reading, there: Reading | None) -> Reading:
    """The reading as it is to stand where `there` stands now, by the rule of `FLAGS_KEPT`."""
    if there is None or (one.value, one.raw) != (there.value, there.raw):
        return one
    return replace(one, flags=((one.flags | there.flags) & ~UNBELIEVED_TIME) | (one.flags & there.flags))


def free_place_ms(one: Reading, there: Iterable[Reading]) -> int | None:
    """The first free millisecond from its own on for a reading that may overwrite nothing; None where it was sent twice.

    `there` is what stands at its probe from its time on, oldest first; it is read as far as the first gap.
    """
    free_ms = one.measured_ms
    for other in there:
        if other.measured_ms > free_ms:
            break
        same = (other.measured_ms, other.value, other.raw) == (one.measured_ms, one.value, one.raw)
        soon = other.time_believed or abs(other.received_ms - one.received_ms) < SENT_TWICE_MS
        if same and soon and not one.time_believed:
            return None
        free_ms = other.measured_ms + 1
    return free_ms


def rank(reading: Reading) -> tuple[bool, int]:
    """By this the newest of a probe is told: one flagged FUTURE is newest only where there is no other."""
    return not int(reading.flags) & _FUTURE, reading.measured_ms  # on whole numbers, since each reading taken in is asked
