"""From an address that nobody knows to a reading in a bed, as a newcomer does it: warm one in the hand, claim it with two taps.

The real collector, pages, broker and browser; the collector begins anew with the changed garden file and loses nothing.
"""

import csv
import io
import json
import subprocess
import sys
import time
import urllib.request

import pytest
from playwright.sync_api import expect

from tests.real.mosquitto import free_port, publish, wait_for_listener, wait_until

pytestmark = [pytest.mark.broker, pytest.mark.browser]

GARDEN = """# nothing is known of its probes yet
[garden]
name = "Home"
latitude_deg = 36.0
longitude_deg = -5.0
timezone = "Europe/Madrid"

[store]
path = "garden.db"

[mqtt]
host = "127.0.0.1"
port = {broker}
topics = ["garden/#"]
client_id = "claiming"

[[bed]]
id = "upper"
name = "Upper bed"
cool_limit_c = 18.0

  [[bed.planting]]
  variety = "Creole"
  planted = 2025-11-02
  depth_cm = 12
"""


def pack(now_s, warmed_k):
    values = {"28a1": 14.0, "28a2": 15.0 + warmed_k, "28a3": 15.5}
    records = [{"n": f"urn:dev:ow:{name}", "u": "Cel", "v": value, "t": now_s} for name, value in values.items()]
    return "garden/stake", json.dumps(records).encode()


def exported(path):
    call = [sys.executable, "-m", "collector", "export", "--garden", str(path)]
    out = subprocess.run(call, capture_output=True, text=True, check=True).stdout
    return [(row["probe"], float(row["value"])) for row in csv.DictReader(io.StringIO(out))]


def answers(port):
    try:
        return urllib.request.urlopen(f"http://127.0.0.1:{port}/stakes", timeout=5).status == 200
    except OSError:
        return False


def test_a_thermometer_in_the_hand_is_found_and_claimed_with_all_that_it_said(mosquitto, chromium, tmp_path):
    path, port, log = tmp_path / "garden.toml", free_port(), tmp_path / "log"
    path.write_text(GARDEN.format(broker=mosquitto.port))
    call = [sys.executable, "-m", "collector", "run", "--garden", str(path), "--port", str(port)]
    with log.open("w") as out:
        program = subprocess.Popen(call, stderr=out)
    try:
        wait_until(lambda: "listening on mqtt" in log.read_text())
        wait_for_listener(mosquitto.port, "garden/x")
        begin_s = round(time.time()) - 60
        publish(mosquitto.port, [pack(begin_s + at * 10, 0.0) for at in range(5)])
        page = chromium.new_page(viewport={"width": 390, "height": 844})
        errors = []
        page.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)

        wait_until(lambda: answers(port), 30)
        page.goto(f"http://127.0.0.1:{port}/stakes")
        row = page.locator("li", has_text="urn:dev:ow:28a2").first
        expect(row).to_contain_text("15.0 °C", timeout=20_000)
        page.get_by_role("button", name="I hold one now").click()
        expect(page.get_by_text("none has moved much further")).to_be_visible()
        held_s = round(time.time()) + 1
        publish(mosquitto.port, [pack(held_s, 2.5)])
        expect(page.get_by_text("It is urn:dev:ow:28a2")).to_be_visible(timeout=20_000)

        row.get_by_text("Claim it").click()
        row.get_by_role("button", name="12 cm down, soil temperature").click()
        expect(page.get_by_text("The garden file has it as upper-t12")).to_be_visible(timeout=20_000)
        # the collector begins anew: what it said before the claim is there, and what it says now comes in
        publish(mosquitto.port, [pack(held_s + 10, 3.0)])
        wait_until(lambda: len(exported(path)) == 7, 30)
        assert exported(path) == [("upper-t12", 15.0)] * 5 + [("upper-t12", 17.5), ("upper-t12", 18.0)]
        expect(page.locator("section", has_text="Upper bed").first).to_contain_text("18.0 °C", timeout=30_000)
        assert path.read_text().startswith("# nothing is known of its probes yet\n")
        assert errors == []
    finally:
        program.terminate()
        assert program.wait(30) == 0
