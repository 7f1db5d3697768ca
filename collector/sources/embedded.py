"""A broker beside the collector, for trying out: it lives in memory and listens on this machine only.

A garden that matters runs a broker of its own, which keeps waiting messages on disk.
"""

from __future__ import annotations

import socket
from dataclasses import replace
from types import TracebackType

from iotcore import Broker

from collector.errors import SourceError
from collector.settings import MqttSettings

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


class BesideBroker:
    """The embedded broker of a garden, for as long as the garden file asks for it at the same port.

    It outlives a collector that begins anew with a changed garden file, for all that it keeps, it keeps in memory.
    """

    def __init__(self) -> None:
        """Nothing is started yet."""
        self._wanted: int | None = None
        self._broker: EmbeddedBroker | None = None

    def beside(self, settings: MqttSettings) -> MqttSettings:
        """Where the broker of these settings is: the embedded one, started here, or another one. Raises SourceError."""
        wanted = settings.port if settings.embedded else None
        if wanted != self._wanted:
            self.close()
            self._wanted = wanted
        if wanted is None:
            return settings
        if self._broker is None:
            self._broker = EmbeddedBroker(wanted).__enter__()
        return replace(settings, host=LOOPBACK, port=self._broker.port)

    def close(self) -> None:
        """Stop it. Harmless when called twice."""
        if self._broker is not None:
            self._broker.__exit__(None, None, None)
            self._broker = None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        return int(probe.getsockname()[1])
