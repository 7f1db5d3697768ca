"""A broker beside the collector, for trying out: it lives in memory and listens on this machine only.

A garden that matters runs a broker of its own, which keeps waiting messages on disk.
"""

from __future__ import annotations

import socket
from types import TracebackType

from iotcore import Broker

from collector.errors import SourceError

LOOPBACK = "127.0.0.1"
# Larger than the collector takes, so that an over-long message is told as refused and not as a broken connection.
PAYLOAD_MAX_BYTES = 16 * 1024 * 1024


class EmbeddedBroker:
    """An MQTT 3.1.1 broker in a process of its own, up between `with` and its end.

    Port 0 takes any free port; `port` tells which.
    """

    def __init__(self, port: int = 1883) -> None:
        self.port = port
        self._broker: Broker | None = None

    def __enter__(self) -> EmbeddedBroker:
        """Start it, and return when it accepts connections. Raises SourceError where it cannot start."""
        if self.port == 0:
            self.port = _free_port()
        broker = Broker(port=self.port, listen=LOOPBACK, max_payload_size=PAYLOAD_MAX_BYTES)
        try:
            broker.start()
        except OSError:
            raise SourceError(
                f"the embedded broker cannot have port {self.port} of {LOOPBACK}: another program listens there; "
                "stop it, or give another `port` under [mqtt]"
            ) from None
        except RuntimeError as error:
            raise SourceError(f"the embedded broker did not start on {LOOPBACK}:{self.port}: {error}") from None
        self._broker = broker
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        """Stop it and free its port."""
        if self._broker is not None:
            self._broker.stop()
            self._broker = None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        return int(probe.getsockname()[1])
