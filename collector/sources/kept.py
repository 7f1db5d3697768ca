"""What addresses said before a probe claimed them, as a wire that the store itself speaks on.

So it goes the way of every reading: units, checks, one commit, and only then it is let go of. What comes twice does no harm.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import msgspec

from collector.errors import StoreBusyError
from collector.model import Envelope, Unclaimed
from collector.ports import Clock, ReadingStore

AT_ONCE = 500


class KeptSource:
    """The kept measurements of addresses that have a probe now (`ports.Source`); silent once all of them are readings."""

    name = "kept measurements of newly claimed addresses"
    can_acknowledge = True

    def __init__(self, store: ReadingStore, addresses: Collection[str], clock: Clock) -> None:
        """Nothing is asked before the first `take`. `store` is the caller's to close."""
        self.trouble: str | None = None
        self._store = store
        self._addresses = addresses
        self._clock = clock
        self._all_told = False
        self._taken: Sequence[Unclaimed] = ()

    def take(self, wait_s: float) -> Sequence[Envelope]:
        """The oldest that are left, at once; when none is left it only waits."""
        if not self._all_told:
            try:
                self._taken = self._store.kept_of(self._addresses, AT_ONCE)
                self.trouble = None
            except StoreBusyError as busy:
                self.trouble = f"they cannot be read now, and are tried again: {busy}"
                self._taken = ()
            else:
                self._all_told = not self._taken
        if not self._taken:
            self._clock.sleep(wait_s)
        return [_envelope(one) for one in self._taken]

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        """They are stored as readings: no need to keep them as unclaimed."""
        try:
            self._store.let_go(self._taken[: len(envelopes)])
        except StoreBusyError:
            return  # they come again, and do no harm

    def close(self) -> None:
        """Nothing of its own to let go of."""


def _envelope(one: Unclaimed) -> Envelope:
    record: dict[str, object] = {"n": one.address, "v": one.value, "t": one.measured_ms / 1000}
    if one.unit is not None:
        record["u"] = one.unit
    payload = msgspec.json.encode([record])
    # not the name of its wire alone: it is SenML now, whatever that wire speaks
    return Envelope(f"kept of {one.source}", payload, one.received_ms, len(payload))
