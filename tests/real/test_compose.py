"""docker-compose.yml, as far as it can be tried without a Docker engine: it fits the schema of compose files, and the command of
each service is run as written, with the keys that the first of them makes.

The schema is that of the Compose specification, as check-jsonschema carries it.
"""

import csv
import io
import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import httpx
import paho.mqtt.client as paho
import pytest
import yaml
from paho.mqtt.enums import CallbackAPIVersion

from tests.real.mosquitto import Mosquitto, free_port, wait_until

# What the database is made with at its first start, and no secret.
PLAIN = {f"DOCKER_INFLUXDB_INIT_{name}" for name in ("MODE", "ORG", "BUCKET", "USERNAME")} | {"COOLDEPTH_MQTT_USER"}
COMPOSE = Path(__file__).parents[2] / "docker-compose.yml"
GARDEN = """
[garden]
latitude_deg = 36.0
longitude_deg = -5.0
[[bed]]
id = "upper"
[[bed.probe]]
id = "t12"
quantity = "soil_temperature"
depth_cm = 12
address = "gate/t12"
"""


@pytest.fixture(scope="module")
def compose():
    return yaml.safe_load(COMPOSE.read_text())


def test_it_runs_broker_database_collector_and_pages(compose):
    assert set(compose["services"]) == {"keys", "broker", "influxdb", "collector", "dashboard"}


def test_it_fits_the_schema_of_compose_files():
    call = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.compose-spec", str(COMPOSE)]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_no_service_is_root_or_may_do_more_than_it_has_to(compose):
    for name, service in compose["services"].items():
        assert service["cap_drop"] == ["ALL"], name
        assert service["security_opt"] == ["no-new-privileges:true"], name
        assert service["read_only"] is (name != "influxdb"), name
        assert "user" in service or "USER cooldepth" in service["build"]["dockerfile_inline"], name
        assert service.get("restart") == ("no" if name == "keys" else "unless-stopped"), name
        assert service["logging"]["options"]["max-size"], name
        assert "healthcheck" in service or name == "keys", name


def test_every_volume_and_configuration_that_a_service_names_is_there(compose):
    for name, service in compose["services"].items():
        for volume in service.get("volumes", []):
            source = volume.split(":")[0]
            assert source.startswith("./") or source in compose["volumes"], f"{name} names volume {source}"
        for configuration in service.get("configs", []):
            assert configuration["source"] in compose["configs"], f"{name} names configuration {configuration['source']}"


def test_every_folder_that_the_keys_go_to_is_made_for_their_user_before_a_volume_lies_over_it(compose):
    """Docker gives a new volume the owner of the folder that it first lies over."""
    made = re.search(r"mkdir --parents (.*?) &&", compose["services"]["keys"]["build"]["dockerfile_inline"])[1].split()
    wanted = {volume.split(":")[1] for volume in compose["services"]["keys"]["volumes"]} - {"/keys"}
    assert wanted <= set(made)
    assert "/data" in made


def test_no_secret_stands_in_it(compose):
    for name, service in compose["services"].items():
        for variable, value in service.get("environment", {}).items():
            if variable in PLAIN:
                continue
            from_outside = re.fullmatch(r"\$\{\w+(:[-?].*)?\}", value)
            assert from_outside or (variable.endswith("_FILE") and value.startswith("/keys/")), f"{name} gives {variable} itself"


def test_the_garden_file_that_its_top_describes_fits_the_database_that_it_makes(compose):
    told = re.search(r'url = "(.*?)"\n#\s+org = "(.*?)"\n#\s+bucket = "(.*?)"', COMPOSE.read_text())
    made = compose["services"]["influxdb"]["environment"]
    assert told.groups() == ("http://influxdb:8086", made["DOCKER_INFLUXDB_INIT_ORG"], made["DOCKER_INFLUXDB_INIT_BUCKET"])


def test_the_script_that_maps_the_bucket_to_a_database_is_a_script(compose, tmp_path):
    script = compose["configs"]["influx-mapping"]["content"].replace("$$", "$")  # as compose hands it over
    (tmp_path / "influx").write_text('#!/bin/sh\necho "$@"\n')
    (tmp_path / "influx").chmod(0o755)
    made = {
        "DOCKER_INFLUXDB_INIT_ORG": "garden",
        "DOCKER_INFLUXDB_INIT_BUCKET": "readings",
        "DOCKER_INFLUXDB_INIT_BUCKET_ID": "7f",
    }
    environ = {**made, "PATH": f"{tmp_path}:/bin:/usr/bin"}
    told = subprocess.run(["sh", "-c", script], env=environ, capture_output=True, text=True, check=True).stdout
    assert told.strip() == "v1 dbrp create --org garden --bucket-id 7f --db readings --rp autogen --default"


# ---------------------------------------------------------------- run as written


class Composed:
    """What the services are in compose, without their containers: folders for volumes, programs for commands."""

    def __init__(self, compose, folder):
        self._compose, self._folder = compose, folder
        self._volumes = {name: folder / "volumes" / name for name in compose["volumes"]}
        for place in self._volumes.values():
            place.mkdir(parents=True)
        (folder / "garden").mkdir()

    def places(self, service):
        """Where a path within the service lies here, the longest first."""
        mounts = [volume.split(":")[:2] for volume in self._compose["services"][service].get("volumes", [])]
        found = {to: self._folder / source[2:] if source.startswith("./") else self._volumes[source] for source, to in mounts}
        return dict(sorted(found.items(), key=lambda one: -len(one[0])))

    def here(self, service, text):
        """A text with the paths within the service made those of this machine, in one go."""
        places = self.places(service)
        inside = "|".join(re.escape(path) for path in places)
        return re.sub(rf"(?<![\w/.-])(?:{inside})(?=[/\s\"]|$)", lambda found: str(places[found[0]]), text) if places else text

    def environment(self, service):
        told = self._compose["services"][service].get("environment", {})
        fixed = {name: self.here(service, value) for name, value in told.items() if not value.startswith("${")}
        return {"PATH": os.environ["PATH"], "HOME": str(self._folder), **fixed}

    def command(self, service, **changed):
        words = [changed.get(word, word) for word in self._compose["services"][service]["command"]]
        words = [re.sub(r"\$\{\w+:-(.*)\}", r"\1", word) for word in words]
        return [sys.executable, "-m", "collector", *(self.here(service, word) for word in words)]


@pytest.fixture
def composed(compose, tmp_path):
    one = Composed(compose, tmp_path)
    keys = Composed.command(one, "keys")
    group = keys.index("--group")
    # volumes within volumes are folders of their own here: they are made in one, and handed out
    into = tmp_path / "all"
    call = [*keys[: keys.index("--into") + 1], str(into), *keys[group + 2 :]]
    subprocess.run(call, env=one.environment("keys"), check=True, capture_output=True)
    for name in ("broker", "collector", "influx", "pages"):
        shutil.copytree(into / name, tmp_path / "volumes" / f"keys-{name}", dirs_exist_ok=True)
    for path in (tmp_path / "volumes" / "keys-broker").iterdir():
        path.chmod(0o644)  # the broker is of the group there, and another user here
    one.grower = into / "grower"
    return one


@pytest.fixture
def broker(composed, compose, tmp_path):
    """The broker with its configuration as written, at ports of this machine."""
    ports = {"8883": free_port(), "1883": free_port(), "1884": free_port()}
    content = compose["configs"]["broker"]["content"]
    for told, real in ports.items():
        content = content.replace(f"listener {told}", f"listener {real}" + ("" if told == "1884" else " 127.0.0.1"))
    only = tmp_path / "uptime-only"
    only.write_text(compose["configs"]["uptime-only"]["content"].replace("$$", "$"))
    only.chmod(0o644)
    content = composed.here("broker", content).replace("/mosquitto/config/uptime-only", str(only))
    (tmp_path / "volumes" / "broker").chmod(0o777)
    one = Mosquitto(tmp_path)
    one.run_with(content, ports["8883"])
    with one:
        one.ports = ports
        yield one


def client(broker, composed, user, password=None, *, port="8883"):
    """A client that has connected, or the reason why not."""
    one = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
    answers = []
    one.on_connect = lambda _client, _data, _flags, reason, _properties: answers.append(str(reason))
    one.on_subscribe = lambda _client, _data, _mid, reasons, _properties: answers.append(str(reasons[0]))
    one.on_message = lambda _client, _data, message: answers.append(message.payload)
    if user is not None:
        one.username_pw_set(user, password or (composed.grower / f"stake-{user}").read_text())
    if port == "8883":
        one.tls_set(str(composed.grower / "authority.crt"))
    one.connect("127.0.0.1", broker.ports[port])
    one.loop_start()
    one.answers = answers
    wait_until(lambda: answers)
    return one


@pytest.fixture
def leave():
    opened = []
    yield opened.append
    for one in opened:
        one.disconnect()
        one.loop_stop()


@pytest.mark.broker
def test_each_account_may_do_its_own_and_no_more_and_nobody_comes_in_without_one(broker, composed, leave):
    for user, password in ((None, None), ("stakes", "guessed"), ("nobody", "guessed")):
        for port in ("8883", "1883"):
            turned_away = client(broker, composed, user, password, port=port)
            leave(turned_away)
            assert turned_away.answers[0] == "Not authorized"
    stake = client(broker, composed, "stakes")
    collector = client(broker, composed, "collector", composed.environment("collector") and _password(composed))
    leave(stake), leave(collector)
    assert stake.answers == collector.answers == ["Success"]
    collector.subscribe("garden/#", qos=1)
    wait_until(lambda: len(collector.answers) == 2)
    for topic in ("cooldepth/collectors/x/y", "elsewhere", "garden/gate"):
        stake.publish(topic, topic, qos=1).wait_for_publish(5)
    wait_until(lambda: len(collector.answers) == 3)
    assert collector.answers[2] == b"garden/gate"
    stake.subscribe("garden/#", qos=1)  # a stake hears nothing of another
    wait_until(lambda: len(stake.answers) == 2)
    collector.publish("garden/gate", b"nor does the collector speak for one", qos=1).wait_for_publish(5)
    time.sleep(0.5)
    assert stake.answers[1:] == ["Not authorized"] or b"garden/gate" not in stake.answers
    assert len(collector.answers) == 3


def _password(composed):
    return Path(composed.environment("collector")["COOLDEPTH_MQTT_PASSWORD_FILE"]).read_text()


@pytest.mark.broker
def test_a_stake_with_an_account_of_its_own_writes_below_its_own_name_alone(broker, composed, leave, tmp_path):
    call = [
        sys.executable,
        "-m",
        "collector",
        "keys",
        "--into",
        str(tmp_path / "all"),
        "--host",
        "garden.local",
        "--stake",
        "gate",
    ]
    subprocess.run(call, check=True, capture_output=True)
    for name in ("accounts", "access"):
        shutil.copy(tmp_path / "all" / "broker" / name, tmp_path / "volumes" / "keys-broker" / name)
        (tmp_path / "volumes" / "keys-broker" / name).chmod(0o644)
    broker.stop()
    broker.start()
    gate, collector = client(broker, composed, "gate"), client(broker, composed, "collector", _password(composed))
    leave(gate), leave(collector)
    collector.subscribe("garden/#", qos=1)
    wait_until(lambda: len(collector.answers) == 2)
    for topic in ("garden/gate/t12", "garden/shed/t12", "garden/gatecrash"):
        gate.publish(topic, topic, qos=1).wait_for_publish(5)
    time.sleep(0.5)
    assert collector.answers[2:] == [b"garden/gate/t12"]


@pytest.mark.broker
def test_the_health_check_of_the_broker_works_as_written_and_tells_nothing_else(broker, compose):
    words = [word.replace("$$", "$") for word in compose["services"]["broker"]["healthcheck"]["test"][1:]]
    words[words.index("-p") + 1] = str(broker.ports["1884"])
    done = subprocess.run([*words[:-1], "20"], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert "seconds" in done.stdout
    words[words.index("-t") + 1] = "garden/#"
    assert subprocess.run([*words[:-1], "1"], capture_output=True, text=True, check=False).returncode != 0


@pytest.mark.broker
def test_collector_and_pages_run_with_their_commands_and_what_the_keys_made(broker, composed, compose, leave, tmp_path):
    told = "\n".join(
        re.findall(r"^#   (\[store\]|\[mqtt\]|\w+ = .*)$", COMPOSE.read_text().split("# Passwords")[0], re.MULTILINE)
    )
    told = composed.here("collector", told).replace('"broker"', '"localhost"').replace("8883", str(broker.ports["8883"]))
    (tmp_path / "garden" / "garden.toml").write_text(f"{told}\n{GARDEN}")
    port = free_port()
    pages = composed.command("dashboard", **{"8050": str(port), "0.0.0.0": "127.0.0.1"})
    log = tmp_path / "log"
    with log.open("w") as out:
        programs = [
            subprocess.Popen(composed.command("collector"), env=composed.environment("collector"), stderr=out),
            subprocess.Popen(pages, env=composed.environment("dashboard"), stderr=out),
        ]
    try:
        stake = client(broker, composed, "stakes")
        leave(stake)

        def exported():
            stake.publish("garden/gate", b'[{"n":"gate/t12","u":"Cel","v":14.5}]', qos=1).wait_for_publish(5)
            call = [sys.executable, "-m", "collector", "export", "--garden", str(tmp_path / "garden" / "garden.toml")]
            rows = subprocess.run(call, capture_output=True, text=True, check=True).stdout
            return [row["value"] for row in csv.DictReader(io.StringIO(rows))]

        wait_until(lambda: "14.5" in exported(), 30)
        health = [
            word.replace("/garden/", f"{tmp_path}/garden/")
            for word in compose["services"]["collector"]["healthcheck"]["test"][2:]
        ]
        call = [sys.executable, "-m", "collector", *health]
        wait_until(lambda: subprocess.run(call, capture_output=True, check=False).returncode == 0, 30)
        base = f"http://127.0.0.1:{port}"
        wait_until(lambda: _answers(base), 30)
        assert httpx.get(f"{base}/stakes").status_code == 303  # to the door
        with httpx.Client(base_url=base, follow_redirects=True) as person:
            password = (composed.grower / "pages-password").read_text()
            answer = person.post("/sign-in", data={"password": password}, headers={"Origin": base})
            assert answer.status_code == 200
            assert person.get("/stakes").status_code == 200
        for secret in (_password(composed), password):
            assert secret not in log.read_text()
            for program in programs:
                assert secret not in Path(f"/proc/{program.pid}/cmdline").read_text()
    finally:
        for program in programs:
            program.terminate()
        for program in programs:
            program.wait(30)


def _answers(base):
    try:
        return httpx.get(f"{base}/health", timeout=2).status_code in (200, 401, 503, 302)
    except httpx.TransportError:
        return False
