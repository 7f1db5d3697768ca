"""How a message is to be read: as SenML in JSON or CBOR, or as the JSON of a board that the garden file tells of."""

from __future__ import annotations

from collections.abc import Sequence

from collector.decode import lines, pointer, senml, senml_cbor
from collector.errors import DecodeError
from collector.model import Envelope, Measurement
from collector.settings import JsonSettings

# Strangers may make up topics without end.
_MOST_KNOWN = 4096


class Reader:
    """Reads messages. It keeps nothing of them but how those of their source are read."""

    def __init__(self, foreign: Sequence[JsonSettings] = ()) -> None:
        self._foreign = tuple(foreign)
        self._known: dict[str, tuple[JsonSettings, str] | None] = {}

    def records(self, envelope: Envelope) -> Sequence[Measurement | DecodeError]:
        """The records of a message, each for itself. Raises DecodeError for one that is refused whole."""
        # A pack in CBOR may end with what looks like a check; it comes only over wires that carry bytes whole.
        if envelope.delivery is not None and senml_cbor.is_pack(envelope.payload):
            return senml.resolve(envelope.payload)
        payload = lines.without_check(envelope.payload)
        told = self._told(envelope.source) if self._foreign else None
        return senml.resolve(payload) if told is None else pointer.read(payload, *told)

    def _told(self, source: str) -> tuple[JsonSettings, str] | None:
        if source not in self._known:
            if len(self._known) >= _MOST_KNOWN:
                self._known.clear()
            self._known[source] = pointer.settings_for(self._foreign, source)
        return self._known[source]
