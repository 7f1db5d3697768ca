"""One connection to an MQTT broker, from CONNECT to its end.

paho's network loop runs in the thread that calls `gather`: no second thread, so a message is acknowledged in order
and only after its commit. Each connection has a paho client of its own, so acknowledgements that belong to a lost
connection have nowhere to go; that matters because a broker that lost its session numbers its messages anew.
"""

from __future__ import annotations

import select
import ssl
from collections.abc import Sequence
from typing import Any, cast

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from collector.model import PAYLOAD_LIMIT_BYTES, Delivery, Envelope
from collector.ports import Clock
from collector.settings import MqttSettings
from collector.sources.mqtt_door import equip

V5 = MQTTProtocolVersion.MQTTv5
V311 = MQTTProtocolVersion.MQTTv311

# A batch is no larger than what the broker may send ahead of its acknowledgement, or both would wait.
BATCH_MESSAGES = 1000
BATCH_BYTES = 8 * 1024 * 1024
LINGER_S = 0.05
# A broker of MQTT 3.1.1 sends few messages ahead of their acknowledgement (20, say): waiting longer only slows it.
LINGER_311_S = 0.01

SESSION_S = 60 * 24 * 3600  # as `persistent_client_expiration` of the broker's configuration that we recommend
KEEPALIVE_S = 60
CONNECT_S = 3.0  # for the TCP connection; the caller may be held up that long
ANSWER_S = 10.0  # for the broker's answer to CONNECT


class Connection:
    """One connection to the broker, from CONNECT to its end; after that it is thrown away.

    Opening it may raise OSError. `refused` is the broker's reason where it said no, `ended` how the connection ended.
    """

    def __init__(self, settings: MqttSettings, protocol: MQTTProtocolVersion, clock: Clock) -> None:
        self.connected = False
        self.refused: ReasonCode | None = None
        self.ended: str | None = None
        self.taken_over = False
        self.trouble: str | None = None
        self.session_is_new = False  # True until `subscribe`: nothing comes before
        self.since_s = clock.elapsed_s()
        self._settings = settings
        self._v5 = protocol == V5
        self._clock = clock
        self._inbox: list[Envelope] = []
        self._inbox_bytes = 0
        self._unacknowledged: dict[int, Envelope] = {}
        self._subscribing: dict[int, Sequence[str]] = {}
        self._client = self._open(protocol)

    def _open(self, protocol: MQTTProtocolVersion) -> Client:
        keeps_session = bool(self._settings.topics)
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._settings.client_id,
            clean_session=None if self._v5 else not keeps_session,
            protocol=protocol,
            manual_ack=True,
            reconnect_on_failure=False,
        )
        client.connect_timeout = CONNECT_S
        equip(client, self._settings)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        if not self._v5:
            client.connect(self._settings.host, self._settings.port, KEEPALIVE_S)
            return client
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.ReceiveMaximum = BATCH_MESSAGES
        if keeps_session:
            properties.SessionExpiryInterval = SESSION_S
        client.connect(
            self._settings.host, self._settings.port, KEEPALIVE_S, clean_start=not keeps_session, properties=properties
        )
        return client

    def gather(self, until_s: float) -> Sequence[Envelope]:
        """Messages: all that are there at once or shortly after the first, else none when the time is up."""
        linger_s = LINGER_S if self._v5 else LINGER_311_S
        while self.ended is None and not self.session_is_new and not self._is_full:
            left_s = until_s - self._clock.elapsed_s()
            empty = not self._inbox
            self._pump(max(0.0, left_s))
            if empty and self._inbox:
                until_s = self._clock.elapsed_s() + linger_s
            elif left_s <= 0:
                break
            if not self.connected and self._clock.elapsed_s() - self.since_s > ANSWER_S:
                self.ended = f"no answer within {ANSWER_S:g} s"
        came, self._inbox, self._inbox_bytes = self._inbox, [], 0
        return came

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        """Acknowledge those that came over this connection, in their order."""
        for envelope in envelopes:
            if envelope.delivery is None or self.ended is not None:
                continue
            # The very envelope and not one like it: an older connection may have used the same number.
            if self._unacknowledged.get(envelope.delivery.message_id) is envelope:
                del self._unacknowledged[envelope.delivery.message_id]
                self._guarded(self._client.ack, envelope.delivery.message_id, 1)

    def subscribe(self) -> None:
        """Ask for the topics of the garden file."""
        self.session_is_new = False
        for topic in self._settings.filters:
            self._subscribe(topic)

    def close(self) -> None:
        """Say goodbye if somebody is there to hear it, and let the socket go."""
        if self._client.socket() is not None:
            self._guarded(self._client.disconnect)
        left = self._client.socket()
        if left is not None:
            left.close()
        self.ended = self.ended or "closed here"

    @property
    def _is_full(self) -> bool:
        return len(self._inbox) >= BATCH_MESSAGES or self._inbox_bytes >= BATCH_BYTES

    def _pump(self, wait_s: float) -> None:
        """Let bytes in and out, waiting at most that long [s] for some."""
        sock = self._client.socket()
        if sock is None:
            self.ended = self.ended or "the broker closed it"
            return
        wants_write = [sock] if self._client.want_write() else []
        # TLS may hold what it has read and deciphered already: then nothing more has to come.
        held = self._settings.tls is not None and cast(ssl.SSLSocket, sock).pending() > 0
        try:
            readable, writable, _ = select.select([sock], wants_write, [], 0.0 if held else wait_s)
        except (OSError, ValueError) as error:
            self.ended = str(error)
            return
        if writable:
            self._guarded(self._client.loop_write)
        if readable or held:
            self._read()
        if self.ended is None:
            self._guarded(self._client.loop_misc)

    def _read(self) -> None:
        """Read packets until none is left, or the batch is full; paho reads one at a time."""
        while self.ended is None and not self._is_full:
            before = len(self._inbox)
            self._guarded(self._client.loop_read)
            if len(self._inbox) == before:
                return

    def _guarded(self, call: Any, *arguments: Any) -> None:
        """Call into paho; whatever its parser trips over ends this connection and not the collector."""
        try:
            result = call(*arguments)
        except Exception as error:  # noqa: BLE001 - a broker can send anything at all
            self.ended = self.ended or f"{type(error).__name__}: {error}"
            return
        if result not in (MQTTErrorCode.MQTT_ERR_SUCCESS, MQTTErrorCode.MQTT_ERR_AGAIN):
            self.ended = self.ended or MQTTErrorCode(result).name.removeprefix("MQTT_ERR_").lower().replace("_", " ")

    # ------------------------------------------------------------ called by paho, within _guarded

    def _on_connect(
        self, _client: Client, _userdata: object, flags: ConnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if reason.is_failure:
            self.refused = reason
            self.ended = str(reason)
            return
        self.connected = True
        self.since_s = self._clock.elapsed_s()
        if flags.session_present or not self._settings.topics:
            self.subscribe()
        else:
            self.session_is_new = True

    def _subscribe(self, topic: str) -> None:
        try:
            if self._v5:
                # Kept messages once for each new subscription, and not again for one that the session still has.
                _, number = self._client.subscribe(topic, options=SubscribeOptions(qos=1, retainHandling=1))
            else:
                _, number = self._client.subscribe(topic, qos=1)
        except ValueError as error:
            self.trouble = f"topic {topic!r} of the garden file is no topic filter: {error}"
            return
        if number is not None:
            self._subscribing[number] = [topic]

    def _on_subscribe(
        self, _client: Client, _userdata: object, number: int, reasons: Sequence[ReasonCode], _properties: Properties | None
    ) -> None:
        for topic, reason in zip(self._subscribing.pop(number, ()), reasons, strict=False):
            if reason.is_failure:
                self.trouble = f"the broker refuses topic {topic!r} to user {self._settings.user!r}: {reason}; allow it there"
            elif reason.value == 0:
                self.trouble = f"the broker grants topic {topic!r} at QoS 0 only: what comes while the collector is away is lost"

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        try:
            source = f"mqtt {message.topic}"
        except UnicodeDecodeError:
            source = "mqtt (a topic that is not UTF-8)"
        delivery = Delivery(message.mid, message.dup) if message.qos else None
        payload = message.payload
        envelope = Envelope(
            source, bytes(payload[:PAYLOAD_LIMIT_BYTES]), self._clock.now_ms(), len(payload), delivery, message.retain
        )
        if delivery is not None:
            self._unacknowledged[message.mid] = envelope
        self._inbox.append(envelope)
        self._inbox_bytes += len(envelope.payload)

    def _on_disconnect(
        self, _client: Client, _userdata: object, flags: DisconnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        self.taken_over = reason.getName() == "Session taken over"
        if flags.is_disconnect_packet_from_server:
            self.ended = self.ended or f"the broker says {str(reason).lower()!r}"
        else:
            self.ended = self.ended or "the broker or the network closed it"
