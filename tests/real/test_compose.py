"""docker-compose.yml, as far as it can be tried without a Docker engine: its commands and its broker are run as written."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from tests.real.mosquitto import Mosquitto, free_port, publish

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
            assert re.fullmatch(r"\$\{\w+(:[-?].*)?\}", value), f"{name} gives {variable} a value of its own"


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
