"""TLS to a real broker: whom the collector believes, whom it does not, and what it says then. Certificates by openssl."""

from __future__ import annotations

import shutil
import subprocess

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from collector.clock import SystemClock
from collector.settings import MqttSettings, TlsSettings
from collector.sources.broker_trial import MESSAGES, kept_for_the_absent
from collector.sources.broker_watch import BrokerWatch
from collector.sources.mqtt import MqttSource
from tests.real.mosquitto import Mosquitto, free_port, wait_until

pytestmark = [
    pytest.mark.broker,
    # paho leaves the socket of a failed handshake to Python, which closes it at once, and says so
    pytest.mark.filterwarnings("ignore:Exception ignored.*SSLSocket:pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl on this machine"),
]


def openssl(folder, *words):
    subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)


def signed(folder, authority, name, host):
    """A key and a certificate for a host, signed by an authority."""
    (folder / f"{name}.ext").write_text(f"subjectAltName={host}\n")
    new = ["req", "-newkey", "rsa:2048", "-nodes", "-keyout", f"{name}.key", "-out", f"{name}.csr", "-subj", f"/CN={name}"]
    openssl(folder, *new)
    by = ["-CA", f"{authority}.crt", "-CAkey", f"{authority}.key", "-CAcreateserial", "-days", "2", "-extfile", f"{name}.ext"]
    openssl(folder, "x509", "-req", "-in", f"{name}.csr", "-out", f"{name}.crt", *by)


@pytest.fixture(scope="module")
def papers(tmp_path_factory):
    """Two authorities, and what they signed: the broker as 127.0.0.1 and as another host, and a collector."""
    folder = tmp_path_factory.mktemp("papers")
    for name in ("ours", "theirs"):
        new = ["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={name}"]
        openssl(folder, *new, "-keyout", f"{name}.key", "-out", f"{name}.crt")
    signed(folder, "ours", "broker", "IP:127.0.0.1")
    signed(folder, "ours", "elsewhere", "DNS:broker.example.org")
    signed(folder, "ours", "collector", "DNS:collector")
    for path in folder.iterdir():
        path.chmod(0o644)  # the broker runs as a user of its own
    return folder


@pytest.fixture
def broker(tmp_path, papers, request):
    """Speaks TLS with the certificate that the test asks for, and maybe asks for one too."""
    name, *more = request.param if isinstance(request.param, tuple) else (request.param,)
    one, port = Mosquitto(tmp_path), free_port()
    told = [f"listener {port} 127.0.0.1", "allow_anonymous true", "max_queued_messages 100000", f"cafile {papers}/ours.crt"]
    told += [f"certfile {papers}/{name}.crt", f"keyfile {papers}/{name}.key", *more]
    one.run_with("\n".join(told), port)
    with one:
        yield one


def settings(broker, **tls):
    return MqttSettings("127.0.0.1", ("garden/#",), broker.port, "over-tls", tls=TlsSettings(**tls))


def say(broker, papers, count, size=100):
    """Messages from another client, over TLS too."""
    client = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
    client.tls_set(str(papers / "ours.crt"), str(papers / "collector.crt"), str(papers / "collector.key"))
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    sent = [client.publish("garden/stake", b"%d " % number + b"x" * size, qos=1) for number in range(count)]
    for one in sent:
        one.wait_for_publish(20)
    client.disconnect()
    client.loop_stop()


def trouble_of(settings):
    source = MqttSource(settings, SystemClock())
    try:
        wait_until(lambda: source.take(0.1) is None or source.trouble)
        return source.trouble
    finally:
        source.close()


@pytest.mark.parametrize("broker", ["broker"], indirect=True)
def test_all_that_is_said_comes_once_and_in_order_small_and_large(broker, papers):
    source = MqttSource(settings(broker, ca_file=papers / "ours.crt"), SystemClock())
    came = []

    def take():
        some = source.take(0.1)
        source.acknowledge(some)
        came.extend(some)

    try:
        take(), take()
        say(broker, papers, 300)
        say(broker, papers, 20, size=100_000)
        wait_until(lambda: take() or len(came) >= 320, 20)
        assert [int(one.payload.split()[0]) for one in came] == [*range(300), *range(20)]
        assert source.trouble is None
    finally:
        source.close()
    assert kept_for_the_absent(settings(broker, ca_file=papers / "ours.crt"), SystemClock()) == MESSAGES


@pytest.mark.parametrize("broker", ["broker"], indirect=True)
def test_a_broker_that_a_stranger_signed_is_not_believed(broker, papers):
    for ca_file in (papers / "theirs.crt", None):  # another authority, and those of the system
        told = trouble_of(settings(broker, ca_file=ca_file))
        assert "cannot be reached: its certificate is not accepted: " in told
        assert "trying again" in told
    watch = BrokerWatch(settings(broker, ca_file=papers / "theirs.crt"), SystemClock())
    assert watch.troubles() == []  # the source tells of it


@pytest.mark.parametrize("broker", ["elsewhere"], indirect=True)
def test_a_certificate_for_another_name_is_not_believed_though_ours_signed_it(broker, papers):
    told = trouble_of(settings(broker, ca_file=papers / "ours.crt"))
    assert "its certificate is not accepted: IP address mismatch, certificate is not valid for '127.0.0.1'" in told


@pytest.mark.parametrize("broker", [("broker", "require_certificate true")], indirect=True)
def test_a_broker_that_asks_for_a_certificate_gets_ours_and_without_one_says_no(broker, papers):
    mine = {"cert_file": papers / "collector.crt", "key_file": papers / "collector.key"}
    source = MqttSource(settings(broker, ca_file=papers / "ours.crt", **mine), SystemClock())
    came = []
    try:
        source.take(0.2), source.take(0.2)
        say(broker, papers, 3)
        wait_until(lambda: came.extend(source.take(0.1)) or len(came) == 3)
    finally:
        source.close()
    assert trouble_of(settings(broker, ca_file=papers / "ours.crt")) is not None


@pytest.mark.parametrize("broker", ["broker"], indirect=True)
def test_files_that_are_missing_or_are_none_are_named(broker, papers, tmp_path):
    assert "ca_file /nowhere.crt: No such file" in trouble_of(settings(broker, ca_file="/nowhere.crt"))
    (tmp_path / "empty").write_text("")
    told = trouble_of(settings(broker, ca_file=papers / "ours.crt", cert_file=tmp_path / "empty", key_file=tmp_path / "empty"))
    assert f"cert_file {tmp_path}/empty and key_file" in told
    locked = tmp_path / "locked.key"
    openssl(papers, "rsa", "-aes128", "-passout", "pass:secret", "-in", "collector.key", "-out", str(locked))
    told = trouble_of(settings(broker, ca_file=papers / "ours.crt", cert_file=papers / "collector.crt", key_file=locked))
    assert "the key has a password" in told


def test_what_speaks_no_tls_cannot_be_listened_to_with_it(mosquitto, papers):
    told = trouble_of(MqttSettings("127.0.0.1", ("garden/#",), mosquitto.port, "x", tls=TlsSettings(papers / "ours.crt")))
    assert f"the broker 127.0.0.1:{mosquitto.port}" in told
