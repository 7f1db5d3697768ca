"""A collector that is killed after it has sent a message and before it has noted that: the grower is told again, not never."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from tests.real.mosquitto import publish, wait_until
from tests.real.web_hook import WebHook

pytestmark = pytest.mark.broker

GARDEN = """
[garden]
name = "Test garden"
latitude_deg = 37.1
longitude_deg = -7.6
timezone = "UTC"

[store]
path = "garden.db"

[mqtt]
host = "127.0.0.1"
port = {port}
topics = ["garden/#"]

[[notify]]
url_env = "TEST_PHONE_URL"

[[bed]]
id = "terrace"
name = "Terrace bed"
area_m2 = 7.2
soil = "sandy loam"
cool_limit_c = 18.0
hose_l_min = 12.0

  [[bed.planting]]
  variety = "Porcelain"
  plants = 60
  planted = 2025-10-20
  depth_cm = 12

  [[bed.probe]]
  id = "t12"
  quantity = "soil_temperature"
  depth_cm = 12
  address = "stake:t12"

  [[bed.probe]]
  id = "m15"
  quantity = "soil_moisture"
  depth_cm = 15
  address = "stake:m15"
"""


@pytest.fixture
def web():
    with WebHook() as listener:
        yield listener


class Collector:
    """`cooldepth collect`, until the block ends."""

    def __init__(self, folder, web):
        self._call = [sys.executable, "-m", "collector", "collect", "--garden", str(folder / "garden.toml")]
        self._environ = {**os.environ, "TEST_PHONE_URL": f"json://127.0.0.1:{web.port}/"}
        self._log_path = folder / "collector.log"

    def __enter__(self):
        with self._log_path.open("ab") as log:
            self._process = subprocess.Popen(self._call, env=self._environ, stdout=log, stderr=log)
        return self

    def __exit__(self, *_):
        if self._process.poll() is None:
            self._process.terminate()
            self._process.wait(timeout=20)

    def kill(self):
        self._process.send_signal(signal.SIGKILL)
        self._process.wait(timeout=20)


def day_of(temperature_c, moisture):
    """A day of readings up to now, every half hour, as one SenML pack of both probes."""
    now_s = int(time.time())
    pack = []
    for at_s in range(now_s - 25 * 3600, now_s + 1, 1800):
        pack.append({"n": "stake:t12", "u": "Cel", "t": at_s, "v": temperature_c + at_s % 7 / 100})
        pack.append({"n": "stake:m15", "u": "/", "t": at_s, "v": moisture + at_s % 5 / 1e6})
    return json.dumps(pack).encode()


def test_a_warm_and_dry_bed_tells_the_phone_shade_and_water_even_over_a_kill(tmp_path, mosquitto, web):
    (tmp_path / "garden.toml").write_text(GARDEN.format(port=mosquitto.port))
    # Retained, so that it waits for the collector and not the collector for it.
    publish(mosquitto.port, [("garden/terrace", day_of(19.0, 0.19))], retain=True)
    web.answers.clear()
    with Collector(tmp_path, web) as collector:
        wait_until(lambda: web.received, 40)
        collector.kill()  # it has sent the first message and will never know that it arrived
    web.answers.set()
    with Collector(tmp_path, web):
        wait_until(lambda: len(web.received) >= 3, 40)
    first, *again = web.titles
    assert sorted(again) == ["Terrace bed: lay the shade cloth", "Terrace bed: water 86 litres"]
    assert first in again
