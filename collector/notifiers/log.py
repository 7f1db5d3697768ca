"""A notifier that writes messages as lines, for a garden with no phone or for trying out."""

from __future__ import annotations

from collections.abc import Callable


class LineNotifier:
    """Hands each message as one line to `write`: a logger's method, say."""

    def __init__(self, write: Callable[[str], None], channel: str = "log") -> None:
        """`channel` is its name in the outbox."""
        self._write = write
        self._channel = channel

    @property
    def channel(self) -> str:
        """Its name in the outbox."""
        return self._channel

    def tell(self, title: str, text: str) -> None:
        """Write the message."""
        self._write(f"{title}. {text}")
