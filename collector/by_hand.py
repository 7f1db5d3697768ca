"""Readings that a person took by eye and types in: kept like those of a wire, with what the checks find odd about them."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

from collector import checks
from collector.errors import QuestionError
from collector.model import Batch, Flag, Garden, Reading
from collector.ports import Clock, ReadingStore
from collector.units import UNIT_RULES

OpenStore = Callable[[], AbstractContextManager[ReadingStore]]


class ByHand:
    """Takes readings by hand for the probes of a garden. What the store raises is raised on."""

    def __init__(self, garden: Garden, clock: Clock, open_store: OpenStore | None = None) -> None:
        """Without a store nothing can be entered from here."""
        self._probes = {probe.id: probe for probe in garden.probes}
        self._clock = clock
        self._open_store = open_store

    def enter(self, probe_id: str, value: float) -> Reading:
        """Keep a reading that was just taken, in the unit of the probe's quantity; gives it back with what is odd about it.

        Raises QuestionError for an unknown probe, and for a number that its quantity cannot be.
        """
        probe = self._probes.get(probe_id)
        if probe is None:
            raise QuestionError(f"probe {probe_id!r}: the garden file names no such probe")
        low, high = UNIT_RULES[probe.quantity].possible
        if not low <= value <= high:
            raise QuestionError(
                f"{value:g} {UNIT_RULES[probe.quantity].unit} is no {probe.quantity.value}; want {low:g} to {high:g}"
            )
        if self._open_store is None:
            raise QuestionError("readings cannot be kept from here; use `cooldepth import`")
        now_ms = self._clock.now_ms()
        _, flags = checks.check_imported(None, probe, now_ms, value, now_ms)
        reading = Reading(probe_id, now_ms, value, value, now_ms, flags | Flag.AS_TOLD)
        with self._open_store() as store:
            store.commit(Batch(beside=(reading,)))
        return reading
