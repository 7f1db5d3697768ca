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

from collector.calls import Due
from collector.ports import Clock
from collector.settings import MqttSettings
from collector.sources.mqtt_door import equip

# By convention of brokers, no standard: Mosquitto's manual page mosquitto(8), "Broker status".
DROPPED = "$SYS/broker/publish/messages/dropped"
MEMBERS = "cooldepth/collectors"
UP, AWAY = b"up", b"away"
# What was dropped is told for a day, so that it is read.
TELL_DROPPED_S = 24 * 3600.0
# Still dropping so long after it began is told as more pressing. This and the two below: common practice, no source.
GOES_ON_S = 3600.0
# A collector that is started anew, or its computer, is back sooner.
AWAY_PATIENCE_S = 15 * 60.0
AWAY_LONG_S = 24 * 3600.0
NOT_KNOWN = (Due.NOT_KNOWN, "")
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
        self._drops_since_s = self._dropped_last_s = 0.0
        self._members: dict[str, bool] = {}
        self._away_since_s: dict[str, float] = {}

    def troubles(self) -> list[str]:
        """Listen for a moment; what is wrong, in sentences."""
        self._listen()
        told = []
        if self._clock.elapsed_s() < self._told_until_s:
            told.append(self._dropped_words)
        if away := self._away:
            told.append(self._away_words(away))
        return told

    @property
    def dropped_alarm(self) -> tuple[Due, str] | None:
        """What the grower should be told wherever they are of messages dropped; None when none were for a day.

        Due.NOT_KNOWN before the broker has given its count, and while it is away. It tells of what `troubles` last heard.
        """
        if self._client is None or self._dropped is None:
            return NOT_KNOWN
        if self._clock.elapsed_s() >= self._told_until_s:
            return None
        goes_on = self._dropped_last_s - self._drops_since_s >= GOES_ON_S
        return Due.DUE if goes_on else Due.SOON, f"{_sentence(self._dropped_words)}."

    @property
    def group_alarm(self) -> tuple[Due, str] | None:
        """What the grower should be told of collectors that are away; more pressing when two are, or one for a day.

        None when all are up. Due.NOT_KNOWN while the broker is away, and while it may be no more than a new start.
        """
        if self._own_topic is None:
            return None
        if self._client is None or not self._members:
            return NOT_KNOWN
        if not self._away:
            return None
        now_s = self._clock.elapsed_s()
        away_s = {name: now_s - self._away_since_s[name] for name in self._away}
        long = [name for name in self._away if away_s[name] >= AWAY_PATIENCE_S]
        if not long:
            return NOT_KNOWN
        pressing = len(long) > 1 or away_s[long[0]] >= AWAY_LONG_S
        return Due.DUE if pressing else Due.SOON, f"{_sentence(self._away_words(long))}."

    @property
    def _away(self) -> list[str]:
        return sorted(name for name, up in self._members.items() if not up and name != self._settings.client_id)

    @property
    def _dropped_words(self) -> str:
        return (
            f"the broker {self._settings.host}:{self._settings.port} has dropped {self._dropped} messages since it started, "
            "and readings may be among them: give it room for those who are away, max_queued_messages 1000000"
        )

    def _away_words(self, away: list[str]) -> str:
        one = len(away) == 1
        return (
            f"of the collectors that share the group {self._settings.shared_group!r}, {', '.join(away)} "
            f"{'is' if one else 'are'} away: {'its' if one else 'their'} share of the readings waits at the broker "
            f"until {'it is' if one else 'they are'} back"
        )

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
        if self._own_topic is not None:
            client.will_set(self._own_topic, AWAY, qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_message = self._on_message
        try:
            equip(client, settings)
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
        if self._members.get(name, True):
            self._away_since_s.pop(name, None)
        else:
            self._away_since_s.setdefault(name, self._clock.elapsed_s())

    def _count(self, payload: bytes) -> None:
        if not payload.isdigit():
            return
        dropped = int(payload)
        # A count that is lower than before is that of a broker which has started anew.
        if dropped > (0 if self._dropped is None or dropped < self._dropped else self._dropped):
            now_s = self._clock.elapsed_s()
            if now_s >= self._told_until_s:
                self._drops_since_s = now_s
            self._dropped_last_s, self._told_until_s = now_s, now_s + TELL_DROPPED_S
        self._dropped = dropped


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:]
