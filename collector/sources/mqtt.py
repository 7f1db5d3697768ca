"""Messages from an MQTT broker, acknowledged by hand.

The broker keeps the session (a fixed client id, never a clean start), so what comes while the collector is away
waits there. Every try is a connection of its own, thrown away when it ends; this module decides how and when to try
the next, and says in words what is wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from paho.mqtt.reasoncodes import ReasonCode

from collector.errors import StoreBusyError
from collector.model import Envelope
from collector.ports import Clock
from collector.settings import MqttSettings
from collector.sources.mqtt_connection import V5, V311, Connection
from collector.sources.mqtt_door import why

SLOW_ANSWER_S = 1.0  # a broker that takes longer than this to answer is told
RETRY_FIRST_S = 0.5
RETRY_MAX_S = 30.0

# A connection that the broker ends sooner than this after it accepted it, so many times running, is taken over
# by another client of the same id.
SHORT_LIFE_S = 10.0
SHORT_LIVES = 3


class MqttSource:
    """A `ports.Source` for one broker."""

    can_acknowledge = True

    def __init__(self, settings: MqttSettings, clock: Clock, forget_numbers: Callable[[], None] | None = None) -> None:
        """With `forget_numbers`, which may raise StoreBusyError, the store is told of a new session before anything comes.

        A broker that has no session for us numbers its messages anew, so a new message may look like an old one.
        """
        self._forget_numbers = forget_numbers
        self._settings = settings
        self._clock = clock
        self._connection: Connection | None = None
        self._protocol = V5
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
        if self._trouble is not None or self._connection is None:
            return self._trouble
        if self._connection.connected:
            return self._connection.trouble
        if self._clock.elapsed_s() - self._connection.since_s > SLOW_ANSWER_S:
            return f"the broker {self._address} has not answered yet; is it a broker that listens there?"
        return None

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
                if connection.session_is_new and not self._begin_session(connection):
                    self._clock.sleep(max(0.0, until_s - self._clock.elapsed_s()))
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
            self._connection = Connection(self._settings, self._protocol, self._clock)
        except (OSError, ValueError) as error:  # of the network, or a host or port that is none
            self._trouble = f"the broker {self._address} cannot be reached: {why(error)}; trying again"
            self._pause()
            return self._clock.elapsed_s() < until_s
        return True

    def _settle_in(self, connection: Connection) -> None:
        """The broker has accepted us: forget earlier troubles, unless they are of the kind that comes back."""
        lived_s = self._clock.elapsed_s() - connection.since_s
        self._silent_ends = 0
        if lived_s >= SHORT_LIFE_S:
            self._short_lives = 0
            self._retry_s = RETRY_FIRST_S
        if self._short_lives < SHORT_LIVES:
            self._trouble = None

    def _begin_session(self, connection: Connection) -> bool:
        """Subscribe, now that the store has forgotten the numbers of the session before. False where it is too busy to."""
        try:
            if self._forget_numbers is not None:
                self._forget_numbers()
        except StoreBusyError as busy:
            self._trouble = f"the broker {self._address} begins a new session, which has to wait: {busy}"
            return False
        connection.subscribe()
        return True

    def _part(self, connection: Connection, ended: str) -> None:
        """The connection is gone: say why, and decide how and when to try the next."""
        connection.close()
        self._connection = None
        if connection.connected:
            self._after_loss(connection, ended)
        elif connection.refused is not None:
            self._after_refusal(connection.refused)
        else:
            self._after_silence(ended)

    def _after_loss(self, connection: Connection, ended: str) -> None:
        lived_s = self._clock.elapsed_s() - connection.since_s
        self._short_lives = self._short_lives + 1 if lived_s < SHORT_LIFE_S else 0
        self._trouble = f"the connection to the broker {self._address} was lost: {ended}; trying again"
        if connection.taken_over or self._short_lives >= SHORT_LIVES:
            self._trouble = (
                f"the broker {self._address} ends each connection soon after it accepted it, most likely because another "
                f"client uses client id {self._settings.client_id!r} too: give one of them another `client_id` ({ended})"
            )
        self._protocol = V5  # another broker may answer the next time
        self._pause()

    def _after_refusal(self, reason: ReasonCode) -> None:
        kind = reason.getName()
        if kind == "Unsupported protocol version" and self._protocol == V5:
            self._protocol = V311
            return
        variables = "COOLDEPTH_MQTT_USER and COOLDEPTH_MQTT_PASSWORD"
        if kind not in {"Not authorized", "Bad user name or password"}:
            self._trouble = f"the broker {self._address} refuses the connection: {reason}; trying again"
        elif self._settings.user is None:
            self._trouble = f"the broker {self._address} wants a user and a password: set {variables}"
        else:
            user = self._settings.user
            self._trouble = f"the broker {self._address} refuses user {user!r} ({reason}): set {variables} to what it knows"
        self._pause()

    def _after_silence(self, ended: str) -> None:
        """The broker hung up with no answer to MQTT 5: it may speak 3.1.1 only, which is tried at once."""
        self._silent_ends += 1
        self._protocol = V311 if self._protocol == V5 else V5
        if self._silent_ends == 1:
            return
        self._trouble = (
            f"the broker {self._address} ends the connection without an answer, in MQTT 5 and in 3.1.1: {ended}; some brokers "
            "do so for a wrong user or password (COOLDEPTH_MQTT_USER, COOLDEPTH_MQTT_PASSWORD); trying again"
        )
        self._pause()

    def _pause(self) -> None:
        self._retry_at_s = self._clock.elapsed_s() + self._retry_s
        self._retry_s = min(2 * self._retry_s, RETRY_MAX_S)

    @property
    def _address(self) -> str:
        return f"{self._settings.host}:{self._settings.port}"
