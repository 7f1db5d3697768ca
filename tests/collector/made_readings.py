"""Readings for tests of the series stores."""

from collector.model import Reading

NOON_MS = 1_776_081_600_000
MINUTE_MS = 60_000


def reading(probe_id="t12", minute=0, value=12.0625, **more):
    """A reading of some minute after noon."""
    measured_ms = NOON_MS + minute * MINUTE_MS
    return Reading(probe_id, measured_ms, value, more.pop("raw", value), more.pop("received_ms", measured_ms + 250), **more)


def everything(readings, *probe_ids):
    """All that these probes said."""
    return list(readings.readings(probe_ids, 0, 2**62))
