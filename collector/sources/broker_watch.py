"""What a broker tells of itself, and which collectors of a group are up.

A light connection of its own beside the one that readings come by: it keeps no session and acknowledges nothing.
It listens to the broker's count of messages it has dropped, where the broker gives one, and to the word that each
collector of a group leaves of itself; it leaves its own, with a will by which the broker takes it back for a
collector that dies.
"""

from __future__ import annotations

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from collector.model import MqttSettings
from collector.ports import Clock

# By convention of brokers, no standard: Mosquitto's manual page mosquitto(8), "Broker status".
DROPPED = "$SYS/broker/publish/messages/dropped"
MEMBERS = "cooldepth/collectors"
UP, AWAY = b"up", b"away"
# What was dropped is told for a day, so that it is read.
TELL_DROPPED_S = 24 * 3600.0
LISTEN_S = 0.3
# It is looked at between advice, which may take its time; a process that dies is told by its closed connection.
KEEPALIVE_S = 300
CONNECT_S = 2.0


class BrokerWatch:
    """One thread calls it, every few seconds. It never raises for a broker that is away: others tell of that."""

    def __init__(self, settings: MqttSettings, clock: Clock) -> None:
        self._settings = settings
        self._clock = clock
        self._client: Client | None = None
        self._dropped: int | None = None
        self._told_until_s = 0.0
        self._members: dict[str, bool] = {}

    def troubles(self) -> list[str]:
        """Listen for a moment; what is wrong, in sentences."""
        self._listen()
        told = []
        if self._clock.elapsed_s() < self._told_until_s:
            told.append(
                f"the broker {self._settings.host}:{self._settings.port} has dropped {self._dropped} messages since it started, "
                "and readings may be among them: give it room for those who are away, max_queued_messages 1000000"
            )
        away = sorted(name for name, up in self._members.items() if not up and name != self._settings.client_id)
        if away:
            told.append(
                f"of the collectors that share the group {self._settings.shared_group!r}, {', '.join(away)} is away: "
                "its share of the readings waits at the broker until it is back"
            )
        return told

    def close(self) -> None:
        """Take leave: this collector is away on purpose. Harmless when called twice."""
        client, self._client = self._client, None
        if client is None:
            return
        try:
            if self._own_topic is not None:
                client.publish(self._own_topic, AWAY, qos=0, retain=True)
            client.disconnect()
        except (OSError, ValueError):
            return

    @property
    def _own_topic(self) -> str | None:
        group = self._settings.shared_group
        return None if group is None else f"{MEMBERS}/{group}/{self._settings.client_id}"

    def _listen(self) -> None:
        if self._client is None:
            self._client = self._connect()
        until_s = self._clock.elapsed_s() + LISTEN_S
        while self._client is not None and self._clock.elapsed_s() < until_s:
            try:
                result = self._client.loop(LISTEN_S / 3)
            except (OSError, ValueError):
                result = MQTTErrorCode.MQTT_ERR_CONN_LOST
            if result != MQTTErrorCode.MQTT_ERR_SUCCESS:
                self._client = None

    def _connect(self) -> Client | None:
        settings = self._settings
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"{settings.client_id}-watch",
            clean_session=True,
            protocol=MQTTProtocolVersion.MQTTv311,  # which every broker speaks
            reconnect_on_failure=False,
        )
        client.connect_timeout = CONNECT_S
        if settings.user is not None:
            client.username_pw_set(settings.user, settings.password)
        if self._own_topic is not None:
            client.will_set(self._own_topic, AWAY, qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_message = self._on_message
        try:
            client.connect(settings.host, settings.port, KEEPALIVE_S)
        except (OSError, ValueError):
            return None
        return client

    # ------------------------------------------------------------ called by paho, within _listen

    def _on_connect(
        self, client: Client, _userdata: object, _flags: ConnectFlags, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        if reason.is_failure:
            return
        client.subscribe(DROPPED, qos=0)
        if self._own_topic is not None:
            self._members.clear()
            client.subscribe(f"{MEMBERS}/{self._settings.shared_group}/+", qos=1)
            client.publish(self._own_topic, UP, qos=1, retain=True)

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        if message.topic == DROPPED:
            self._count(bytes(message.payload))
            return
        name = message.topic.rpartition("/")[2]
        if message.payload in (UP, AWAY):
            self._members[name] = message.payload == UP
        else:  # its word was taken back for good
            self._members.pop(name, None)

    def _count(self, payload: bytes) -> None:
        if not payload.isdigit():
            return
        dropped = int(payload)
        # A count that is lower than before is that of a broker which has started anew.
        if dropped > (0 if self._dropped is None or dropped < self._dropped else self._dropped):
            self._told_until_s = self._clock.elapsed_s() + TELL_DROPPED_S
        self._dropped = dropped
