"""What the collector loads before the first reading is in: nothing that only advice, the phone or another command needs."""

import subprocess
import sys

GARDEN = """
[garden]
name = "Terraces"
latitude_deg = 38.7
longitude_deg = -9.1
elevation_m = 60
timezone = "UTC"

[store]
path = "garden.db"

[[serial]]
port = "{port}"

[[notify]]
url_env = "COOLDEPTH_PHONE_URL"

[[bed]]
id = "terrace"
name = "Terrace"
area_m2 = 7.2
soil = "sandy loam"

  [[bed.probe]]
  id = "with-time"
  quantity = "soil_temperature"
  depth_cm = 12
  address = "stake:timed"
"""

COLLECT = f"""
import os, sys, tty
from pathlib import Path

from collector import assembly, cli, wiring

master, slave = os.openpty()
tty.setraw(slave)
file = Path(sys.argv[1])
file.write_text({GARDEN!r}.format(port=os.ttyname(slave)))
garden = wiring.read_garden(file, secrets=True, environ={{"COOLDEPTH_PHONE_URL": "json://127.0.0.1:1"}})
line = b'[{{"n":"stake:timed","u":"Cel","t":1790000000,"v":18}}]\\n'
with assembly.open_daemon(garden) as daemon:
    for _ in range(200):  # what is said before the port is open goes nowhere
        os.write(master, line)
        if daemon.intake.step(0.05):
            break
    print(*sorted(sys.modules))
    daemon.advise()
    print(*sorted(sys.modules))
    for source in daemon.sources:
        source.close()
with wiring.open_readings(garden) as readings:
    print(len(list(readings.readings(["with-time"], 0, 2_000_000_000_000))))
"""

LATER = {
    "apprise",
    "argon2",
    "dash",
    "httpx",
    "hypothesis",
    "influxdb_client",
    "iotcore",
    "pandas",
    "plotly",
    "requests",
    "scipy",
    "collector.advisor",
    "collector.demo",
    "collector.forecaster",
    "collector.lookout",
    "collector.probe_watch",
    "collector.query",
    "collector.soil.heat",
    "collector.weather.public",
}


def test_the_first_reading_is_in_before_anything_is_loaded_that_it_does_not_need(tmp_path):
    call = [sys.executable, "-c", COLLECT, str(tmp_path / "garden.toml")]
    ended = subprocess.run(call, capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 0, ended.stderr
    at_first_reading, at_first_advice, stored = ended.stdout.splitlines()
    assert stored == "1"
    assert LATER & set(at_first_reading.split()) == set()
    assert {"collector.intake", "serial"} <= set(at_first_reading.split())
    assert {"collector.advisor", "collector.lookout", "collector.probe_watch"} <= set(at_first_advice.split())
