"""Does a broker keep what it promises to keep? Found out as any client can, on a topic and in a session of our own.

How many messages a broker keeps for a listener that is away, and whether it keeps them through a crash of its own,
cannot be asked by MQTT. The first can be tried: leave a session behind, send it more small messages than a careless
configuration keeps, come back and count. The second cannot be tried without ending the broker.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from collector.errors import SourceError
from collector.ports import Clock
from collector.settings import MqttSettings
from collector.sources.mqtt_door import equip, why

# Mosquitto keeps 1000 as it comes, and 20 on their way (mosquitto.conf(5): max_queued_messages, max_inflight_messages).
MESSAGES = 1500
PATIENCE_S = 10.0
QUIET_S = 1.0  # nothing more has come for so long: nothing more comes
SESSION_S = 60  # should we die on the way, the broker forgets the trial by itself


def kept_for_the_absent(settings: MqttSettings, clock: Clock) -> int:
    """How many of MESSAGES small messages at QoS 1 the broker kept for a listener that was away.

    Raises SourceError where the trial cannot be made: no MQTT 5, no right to the topic, an answer that did not come.
    """
    topic = f"cooldepth/check/{secrets.token_hex(8)}"
    name = f"{settings.client_id[:60]}-trial-{secrets.token_hex(4)}"

    listener = _Peer(settings, name, clock, clean=True)
    listener.client.subscribe(topic, qos=1)
    listener.until(lambda: listener.subscribed)
    listener.client.disconnect()

    sender = _Peer(settings, f"{name}-sender", clock, clean=True)
    for number in range(MESSAGES):
        sender.client.publish(topic, b"%d" % number, qos=1)
    sender.until(lambda: sender.thanked == MESSAGES)
    sender.client.disconnect()

    listener = _Peer(settings, name, clock, clean=False)
    listener.hear()
    listener.client.disconnect()
    _Peer(settings, name, clock, clean=True).client.disconnect()  # what is left of the session goes with this
    return len(listener.heard)


class _Peer:
    """A client of the trial, connected; it notes what comes and what is refused."""

    def __init__(self, settings: MqttSettings, name: str, clock: Clock, *, clean: bool) -> None:
        self.connected = self.subscribed = False
        self.thanked = 0
        self.heard: set[bytes] = set()
        self._refused: str | None = None
        self._clock = clock
        self.client = Client(
            CallbackAPIVersion.VERSION2, client_id=name, protocol=MQTTProtocolVersion.MQTTv5, reconnect_on_failure=False
        )
        self.client.connect_timeout = PATIENCE_S
        self.client.on_connect = self._on_connect
        self.client.on_subscribe = self._on_subscribe
        self.client.on_publish = self._on_publish
        self.client.on_message = self._on_message
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.SessionExpiryInterval = SESSION_S
        properties.ReceiveMaximum = MESSAGES
        try:
            equip(self.client, settings)
            self.client.connect(settings.host, settings.port, clean_start=clean, properties=properties)
        except (OSError, ValueError) as error:
            raise SourceError(f"no connection: {why(error)}") from error
        self.until(lambda: self.connected)

    def until(self, true: Callable[[], bool]) -> None:
        """Wait until it is true; raises SourceError where it is refused, or never comes to be."""
        until_s = self._clock.elapsed_s() + PATIENCE_S
        while not true():
            self.client.loop(0.05)
            if self._refused is None and self.client.socket() is None:
                self._refused = "it ends the connection; MQTT 5 is needed for this"
            elif self._refused is None and self._clock.elapsed_s() > until_s:
                self._refused = f"no answer within {PATIENCE_S:g} s"
            if self._refused is not None:
                raise SourceError(self._refused)

    def hear(self) -> None:
        """Listen until all has come, or nothing more does."""
        before, since_s = 0, self._clock.elapsed_s()
        while len(self.heard) < MESSAGES and self._clock.elapsed_s() - since_s < QUIET_S:
            self.client.loop(0.1)
            if len(self.heard) > before:
                before, since_s = len(self.heard), self._clock.elapsed_s()

    def _note(self, what: str, reason: ReasonCode) -> None:
        if reason.is_failure:
            self._refused = f"it refuses {what} ({reason})"

    def _on_connect(
        self, _client: Client, _data: object, _flags: ConnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        self._note("the connection", reason)
        self.connected = True

    def _on_subscribe(
        self, _client: Client, _data: object, _mid: int, reasons: Sequence[ReasonCode], _properties: Properties | None
    ) -> None:
        self._note("the topic", reasons[0])
        self.subscribed = True

    def _on_publish(self, _client: Client, _data: object, _mid: int, reason: ReasonCode, _properties: Properties) -> None:
        self._note("messages to the topic", reason)
        self.thanked += 1

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        self.heard.add(bytes(message.payload))
