"""docker-compose.yml, as far as it can be tried without a Docker engine: its commands and its broker are run as written."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from tests.real.mosquitto import Mosquitto, free_port, publish

# What the database is made with at its first start, and no secret.
PLAIN = {f"DOCKER_INFLUXDB_INIT_{name}" for name in ("MODE", "ORG", "BUCKET", "USERNAME")}
COMPOSE = Path(__file__).parents[2] / "docker-compose.yml"


@pytest.fixture(scope="module")
def compose():
    return yaml.safe_load(COMPOSE.read_text())


def test_it_runs_broker_database_collector_and_pages(compose):
    assert set(compose["services"]) == {"broker", "influxdb", "collector", "dashboard"}


def test_every_volume_and_configuration_that_a_service_names_is_there(compose):
    for name, service in compose["services"].items():
        for volume in service.get("volumes", []):
            source = volume.split(":")[0]
            assert source.startswith("./") or source in compose["volumes"], f"{name} names volume {source}"
        for configuration in service.get("configs", []):
            assert configuration["source"] in compose["configs"], f"{name} names configuration {configuration['source']}"


def test_no_secret_stands_in_it(compose):
    for name, service in compose["services"].items():
        for variable, value in service.get("environment", {}).items():
            if variable in PLAIN:
                continue
            assert re.fullmatch(r"\$\{\w+(:[-?].*)?\}", value), f"{name} gives {variable} a value of its own"


def test_the_garden_file_that_its_top_describes_fits_the_database_that_it_makes(compose):
    told = re.search(r'url = "(.*?)"\s+org = "(.*?)"\s+bucket = "(.*?)"', COMPOSE.read_text())
    made = compose["services"]["influxdb"]["environment"]
    assert told.groups() == ("http://influxdb:8086", made["DOCKER_INFLUXDB_INIT_ORG"], made["DOCKER_INFLUXDB_INIT_BUCKET"])
    for service in ("collector", "dashboard"):
        token = compose["services"][service]["environment"]["COOLDEPTH_INFLUX_TOKEN"]
        assert token == made["DOCKER_INFLUXDB_INIT_ADMIN_TOKEN"]


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


@pytest.mark.parametrize("service", ["collector", "dashboard"])
def test_the_command_of_a_service_is_one_that_cooldepth_understands(compose, service, tmp_path):
    """It gets as far as the garden file, which is not there: the call itself is sound, and the answer names the file."""
    missing = str(tmp_path / "garden.toml")
    command = [missing if word == "/garden/garden.toml" else word for word in compose["services"][service]["command"]]
    answer = subprocess.run([sys.executable, "-m", "collector", *command], capture_output=True, text=True, check=False)
    assert missing in answer.stderr
    assert "usage:" not in answer.stderr


@pytest.mark.broker
def test_the_broker_starts_with_its_configuration_and_takes_a_message(compose, tmp_path):
    port = free_port()
    content = compose["configs"]["broker"]["content"]
    content = content.replace("listener 1883", f"listener {port} 127.0.0.1").replace("/mosquitto/data/", f"{tmp_path}/")
    broker = Mosquitto(tmp_path)
    broker.run_with(content, port)
    with broker:
        publish(port, [("garden/stake-1", b"[]")])
