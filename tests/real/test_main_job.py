"""The main job as a grower lives it: probes speak to a real broker, the page is open on a phone, the phone rings."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest
from playwright.sync_api import expect

from tests.real.conftest import handed_over
from tests.real.mosquitto import free_port, publish, wait_until
from tests.real.web_hook import WebHook

pytestmark = [pytest.mark.broker, pytest.mark.browser]

GARDEN = """
[garden]
name = "Home"
latitude_deg = 36.0
longitude_deg = -5.0
timezone = "Europe/Madrid"

[store]
kind = "sqlite"
path = "garden.db"

[mqtt]
host = "127.0.0.1"
port = {broker}
topics = ["garden/#"]
client_id = "main-job"

[[notify]]
url_env = "COOLDEPTH_PHONE_URL"

[[bed]]
id = "upper"
name = "Upper bed"
area_m2 = 5.0
field_capacity = 0.25
wilting_point = 0.12
cool_limit_c = 18.0
hose_l_min = 10.0

  [[bed.cover]]
  material = "straw"
  thickness_cm = 8

  [[bed.planting]]
  variety = "Creole"
  planted = 2025-11-02
  depth_cm = 10

  [[bed.probe]]
  id = "t10"
  quantity = "soil_temperature"
  depth_cm = 10
  address = "stake/t10"

  [[bed.probe]]
  id = "m12"
  quantity = "soil_moisture"
  depth_cm = 12
  address = "stake/m12"
"""
# Loam at 0.25 and 0.12 m³/m³, 0.3 m of roots: TAW 39 mm, RAW 11.7 mm (FAO-56, eq. 82 and 83, p = 0.30).
# At 0.20 m³/m³ throughout, 15 mm are short (eq. 87): 75 litres on 5 m², 7.5 minutes at 10 L/min.
DRY = 0.20
WARM_C = 19.0


def two_days(now_s):
    """A reading of each probe every ten minutes up to now: warm and dry."""
    for time_s in range(now_s - 2 * 86400, now_s, 600):
        pack = [{"bn": "stake/", "bt": time_s, "n": "t10", "u": "Cel", "v": WARM_C}, {"n": "m12", "u": "/", "v": DRY}]
        yield "garden/stake", json.dumps(pack).encode()


def test_from_the_probe_in_the_bed_to_the_page_and_the_phone(mosquitto, chromium, tmp_path):
    (tmp_path / "garden.toml").write_text(GARDEN.format(broker=mosquitto.port))
    port = free_port()
    call = [sys.executable, "-m", "collector", "run", "--garden", str(tmp_path / "garden.toml"), "--port", str(port)]
    log = tmp_path / "log"
    with WebHook() as phone, log.open("w") as out:
        url = f"json://127.0.0.1:{phone.port}"
        program = subprocess.Popen(call, env={**os.environ, "COOLDEPTH_PHONE_URL": url}, stderr=out)
        try:
            wait_until(lambda: "listening on mqtt" in log.read_text())
            time.sleep(1)  # until the session stands; what is said before goes nowhere
            publish(mosquitto.port, two_days(int(time.time())))
            wait_until(lambda: len(phone.received) >= 2, 45)
            told = " ".join(f"{body['title']} {body['message']}" for _, body in phone.received)
            assert "75 litres" in told
            assert "averaged 19 °C" in told
            assert "limit is 18 °C" in told

            page = chromium.new_page(viewport={"width": 390, "height": 844})
            page.goto(f"http://127.0.0.1:{port}")
            handed_over(page)
            expect(page.get_by_role("heading", level=1)).to_have_text("Two jobs today.")
            expect(page.get_by_text("Water 75 litres")).to_be_visible()
            page.get_by_role("button", name="Watered").click()
            expect(page.get_by_text("Done at")).to_be_visible()
            page.close()
        finally:
            program.send_signal(signal.SIGTERM)
            status = program.wait(timeout=30)
    assert status == 0
    assert "everything acknowledged is stored" in log.read_text()
