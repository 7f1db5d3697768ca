"""Starts and stops a real Mosquitto, and publishes to it."""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterable
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

# Debian puts it where only root looks.
_FOUND = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
_PASSWD = shutil.which("mosquitto_passwd")

CONFIGURATION = """
per_listener_settings false
listener {port} 127.0.0.1
persistence true
persistence_location {folder}/
autosave_interval 1
max_queued_messages 1000000
max_inflight_messages 1000
log_dest file {folder}/mosquitto.log
{more}
"""


def missing() -> str | None:
    """Why no broker can be started here, or None."""
    return None if _FOUND else "no mosquitto on this machine: install it with `apt-get install mosquitto`"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_until(true: Callable[[], object], seconds: float = 10.0) -> None:
    """Wait until it is true, or fail saying that it never was."""
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, f"not within {seconds} s"
        time.sleep(0.02)


class Mosquitto:
    """A broker that can be stopped and started again on its port, keeping what it had on disk."""

    def __init__(self, folder: Path, more: str = "allow_anonymous true") -> None:
        self.port = free_port()
        self.folder = folder / "broker"
        self.folder.mkdir(exist_ok=True)
        self.folder.chmod(0o777)  # started by root, it drops to a user of its own
        self._file = self.folder / "mosquitto.conf"
        self._process: subprocess.Popen[bytes] | None = None
        self.configure(more)

    def configure(self, more: str) -> None:
        self._file.write_text(CONFIGURATION.format(port=self.port, folder=self.folder, more=f"user root\n{more}"))

    def run_with(self, configuration: str, port: int) -> None:
        """Use a whole configuration of somebody else's, which listens on `port`; to be called before the start."""
        self.port = port
        self._file.write_text(f"user root\n{configuration}")

    def only_user(self, user: str, password: str) -> None:
        """Let nobody in but this user; to be called before the start."""
        users = self.folder / "users"
        subprocess.run([str(_PASSWD), "-b", "-c", str(users), user, password], check=True, capture_output=True)
        users.chmod(0o644)
        self.configure(f"allow_anonymous false\npassword_file {users}")

    def __enter__(self) -> Mosquitto:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self) -> None:
        assert _FOUND, missing()
        self._process = subprocess.Popen([_FOUND, "-c", str(self._file)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        wait_until(self._answers)

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(timeout=10)
            self._process = None

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    def _answers(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, f"mosquitto did not start: {self._log()}"
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
        except OSError:
            return False
        return True

    def _log(self) -> str:
        log = self.folder / "mosquitto.log"
        return log.read_text() if log.exists() else "no log"


def wait_for_listener(port: int, topic: str, seconds: float = 20.0) -> None:
    """Wait until somebody listens to this topic, by saying something there: MQTT 5, section 3.4.2.1, reason 0x10."""
    client = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
    heard: list[bool] = []
    client.on_publish = lambda _client, _data, _mid, reason, _properties: heard.append(reason.value != 0x10)
    client.connect("127.0.0.1", port)
    client.loop_start()
    try:
        wait_until(lambda: client.publish(topic, b"is anybody there", qos=1).wait_for_publish(5) or any(heard), seconds)
    finally:
        client.disconnect()
        client.loop_stop()


def publish(
    port: int, messages: Iterable[tuple[str, bytes]], *, retain: bool = False, protocol: MQTTProtocolVersion = paho.MQTTv5
) -> None:
    """Publish at QoS 1 with a client of our own, and return when the broker has every message."""
    client = paho.Client(CallbackAPIVersion.VERSION2, protocol=protocol)
    client.connect("127.0.0.1", port)
    client.loop_start()
    try:
        sent = [client.publish(topic, payload, qos=1, retain=retain) for topic, payload in messages]
        for one in sent:
            one.wait_for_publish(30)
            assert one.is_published()
    finally:
        client.disconnect()
        client.loop_stop()
