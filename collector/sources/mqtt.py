"""Messages from an MQTT broker, acknowledged by hand.

paho's network loop runs in the thread that calls `take`: no second thread, so a message is acknowledged in order
and only after its commit. The broker keeps the session (a fixed client id, never a clean start), so what comes
while the collector is away waits there. Every connection has a paho client of its own: acknowledgements that belong
to a lost connection have nowhere to go, which matters because a broker may number its messages anew.
"""

from __future__ import annotations

import select
from collections.abc import Sequence
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from collector.model import PAYLOAD_LIMIT_BYTES, Delivery, Envelope, MqttSettings
from collector.ports import Clock

BATCH_MESSAGES = 1000
BATCH_BYTES = 8 * 1024 * 1024
LINGER_S = 0.05
# A broker of MQTT 3.1.1 sends few messages ahead of their acknowledgement (20, say): waiting longer only slows it.
LINGER_311_S = 0.01

SESSION_S = 30 * 24 * 3600
KEEPALIVE_S = 60
CONNECT_S = 3.0  # for the TCP connection; `take` may be held up that long
ANSWER_S = 10.0  # for the broker's answer to CONNECT
RETRY_FIRST_S = 0.5
RETRY_MAX_S = 30.0

# A connection that the broker ends sooner than this after it accepted it, so many times running, is taken over
# by another client of the same id.
SHORT_LIFE_S = 10.0
SHORT_LIVES = 3

_V5 = MQTTProtocolVersion.MQTTv5
_V311 = MQTTProtocolVersion.MQTTv311


class MqttSource:
    """A `ports.Source` for one broker."""

    can_acknowledge = True

    def __init__(self, settings: MqttSettings, clock: Clock) -> None:
        self._settings = settings
        self._clock = clock
        self._connection: _Connection | None = None
        self._protocol = _V5
        self._silent_ends = 0  # connections ended with no word from the broker, one after the other
        self._short_lives = 0  # connections accepted and soon ended by the broker, one after the other
        self._retry_s = RETRY_FIRST_S
        self._retry_at_s = clock.elapsed_s()
        self._trouble: str | None = None
        self._closed = False

    @property
    def name(self) -> str:
        """`mqtt HOST:PORT`."""
        return f"mqtt {self._settings.host}:{self._settings.port}"

    @property
    def trouble(self) -> str | None:
        """What is wrong with the broker or the way to it, in a sentence; None when it is well."""
        if self._connection is not None and self._connection.connected and self._trouble is None:
            return self._connection.trouble
        return self._trouble

    def take(self, wait_s: float) -> Sequence[Envelope]:
        """What has come, after at most `wait_s` [s]; a lost connection is tried again, with growing pauses."""
        until_s = self._clock.elapsed_s() + wait_s
        while not self._closed:
            if self._connection is None and not self._connect(until_s):
                return ()
            connection = self._connection
            if connection is None:
                continue
            came = connection.gather(until_s)
            if connection.ended is not None:
                self._part(connection, connection.ended)
            elif connection.connected:
                self._settle_in(connection)
            if came or self._clock.elapsed_s() >= until_s:
                return came
        return ()

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        """Tell the broker that these are stored; those of a connection that is gone are skipped, and come again."""
        if self._connection is not None:
            self._connection.acknowledge(envelopes)

    def close(self) -> None:
        """Take leave of the broker, which keeps the session and what waits in it. Harmless when called twice."""
        self._closed = True
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def _connect(self, until_s: float) -> bool:
        """Try a connection if it is time to; else wait for that, at most until then. False where time is up."""
        now_s = self._clock.elapsed_s()
        if now_s < self._retry_at_s:
            self._clock.sleep(max(0.0, min(until_s, self._retry_at_s) - now_s))
            return self._clock.elapsed_s() < until_s
        try:
            self._connection = _Connection(self._settings, self._protocol, self._clock)
        except (OSError, ValueError) as error:  # of the network, or a host or port that is none
            self._trouble = f"the broker {self._address} cannot be reached: {_reason(error)}; trying again"
            self._pause()
            return self._clock.elapsed_s() < until_s
        return True

    def _settle_in(self, connection: _Connection) -> None:
        """The broker has accepted us: forget earlier troubles, unless they are of the kind that comes back."""
        lived_s = self._clock.elapsed_s() - connection.since_s
        self._silent_ends = 0
        if lived_s >= SHORT_LIFE_S:
            self._short_lives = 0
            self._retry_s = RETRY_FIRST_S
        if self._short_lives < SHORT_LIVES:
            self._trouble = None

    def _part(self, connection: _Connection, ended: str) -> None:
        """The connection is gone: say why, and decide how and when to try the next."""
        connection.close()
        self._connection = None
        if connection.connected:
            lived_s = self._clock.elapsed_s() - connection.since_s
            self._short_lives = self._short_lives + 1 if lived_s < SHORT_LIFE_S else 0
            self._protocol = _V5
            self._trouble = f"the connection to the broker {self._address} was lost: {ended}; trying again"
            if connection.taken_over or self._short_lives >= SHORT_LIVES:
                self._trouble = (
                    f"the broker {self._address} ends the connection again and again: another client takes it over with "
                    f"client id {self._settings.client_id!r}; give one of them another `client_id` ({ended})"
                )
            self._pause()
            return
        if connection.refused is not None:
            if connection.refused.getName() == "Unsupported protocol version" and self._protocol == _V5:
                self._protocol = _V311
                return
            self._trouble = self._why_refused(connection.refused)
            self._pause()
            return
        # The broker hung up with no answer: it may speak MQTT 3.1.1 only.
        self._silent_ends += 1
        if self._protocol == _V5:
            self._protocol = _V311
            if self._silent_ends == 1:
                return
        else:
            self._protocol = _V5
        self._trouble = (
            f"the broker {self._address} ends the connection without an answer, in MQTT 5 and in 3.1.1: {ended}; "
            f"some brokers do so for a wrong user or password (COOLDEPTH_MQTT_USER, COOLDEPTH_MQTT_PASSWORD); trying again"
        )
        self._pause()

    def _why_refused(self, reason: ReasonCode) -> str:
        if reason.getName() in {"Not authorized", "Bad user name or password"}:
            if self._settings.user is None:
                return (
                    f"the broker {self._address} wants a user and a password: set COOLDEPTH_MQTT_USER and COOLDEPTH_MQTT_PASSWORD"
                )
            return (
                f"the broker {self._address} refuses user {self._settings.user!r} ({reason}): "
                "set COOLDEPTH_MQTT_USER and COOLDEPTH_MQTT_PASSWORD to what it knows"
            )
        return f"the broker {self._address} refuses the connection: {reason}; trying again"

    def _pause(self) -> None:
        self._retry_at_s = self._clock.elapsed_s() + self._retry_s
        self._retry_s = min(2 * self._retry_s, RETRY_MAX_S)

    @property
    def _address(self) -> str:
        return f"{self._settings.host}:{self._settings.port}"


class _Connection:
    """One connection to the broker, from CONNECT to its end; after that it is thrown away.

    Opening it may raise OSError. `refused` is the broker's reason where it said no, `ended` how the connection ended.
    """

    def __init__(self, settings: MqttSettings, protocol: MQTTProtocolVersion, clock: Clock) -> None:
        self.connected = False
        self.refused: ReasonCode | None = None
        self.ended: str | None = None
        self.taken_over = False
        self.trouble: str | None = None
        self.since_s = clock.elapsed_s()
        self._settings = settings
        self._v5 = protocol == _V5
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
        if self._settings.user is not None:
            client.username_pw_set(self._settings.user, self._settings.password)
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
        while self.ended is None and len(self._inbox) < BATCH_MESSAGES and self._inbox_bytes < BATCH_BYTES:
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

    def close(self) -> None:
        """Say goodbye if somebody is there to hear it, and let the socket go."""
        if self._client.socket() is not None:
            self._guarded(self._client.disconnect)
        left = self._client.socket()
        if left is not None:
            left.close()
        self.ended = self.ended or "closed here"

    def _pump(self, wait_s: float) -> None:
        """Let bytes in and out, waiting at most that long [s] for some."""
        sock = self._client.socket()
        if sock is None:
            self.ended = self.ended or "the broker closed it"
            return
        wants_write = [sock] if self._client.want_write() else []
        try:
            readable, writable, _ = select.select([sock], wants_write, [], wait_s)
        except (OSError, ValueError) as error:
            self.ended = str(error)
            return
        if writable:
            self._guarded(self._client.loop_write)
        if readable:
            self._read()
        if self.ended is None:
            self._guarded(self._client.loop_misc)

    def _read(self) -> None:
        """Read packets until none is left, or the batch is full; paho reads one at a time."""
        while self.ended is None and len(self._inbox) < BATCH_MESSAGES and self._inbox_bytes < BATCH_BYTES:
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
        self, client: Client, _userdata: object, _flags: ConnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if reason.is_failure:
            self.refused = reason
            self.ended = str(reason)
            return
        self.connected = True
        self.since_s = self._clock.elapsed_s()
        for topic in self._settings.topics:
            self._subscribe(client, topic)

    def _subscribe(self, client: Client, topic: str) -> None:
        try:
            if self._v5:
                # Kept messages once for each new subscription, and not again for one that the session still has.
                _, number = client.subscribe(topic, options=SubscribeOptions(qos=1, retainHandling=1))
            else:
                _, number = client.subscribe(topic, qos=1)
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


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)
