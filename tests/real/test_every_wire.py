"""One stake on each wire, four thermometers and a moisture probe: heard, claimed by commands, looked at, exported.

One real collector hears them all at once: a Mosquitto broker, a serial line, simulated SDI-12 sensors and pymodbus's own
server behind pseudo-terminals. The guide (firmware_notes, README) names no command that is not used here.
"""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
import threading
import time
import tty

import pytest

from collector import wiring
from collector.units import Quantity
from tests.real.mosquitto import publish, wait_for_listener, wait_until
from tests.real.sdi12_sensors import Bus, Sensor
from tests.real.test_modbus import Cable

pytestmark = pytest.mark.broker

DEPTHS_CM = (5, 10, 20, 30)
QUANTITIES = (*[Quantity.SOIL_TEMPERATURE] * 4, Quantity.SOIL_MOISTURE)
# What the stakes say: four temperatures [°C] and water [m³/m³].
SAYS = (17.5, 16.25, 15.0, 14.5, 0.214)

GARDEN = """
[garden]
latitude_deg = 36.0
longitude_deg = -5.0

[store]
path = "garden.db"

[mqtt]
host = "127.0.0.1"
port = {broker}
topics = ["garden/#", "bench/#"]
client_id = "every-wire"

[[json]]
topic = "bench/+"

{fields}

[[serial]]
port = "{folder}/serial"

[[sdi12]]
port = "{folder}/sdi12"
every_s = 10

  [[sdi12.sensor]]
  address = "0"
  units = ["Cel", "Cel", "Cel", "Cel", "/"]

[[modbus]]
port = "{folder}/tty"
every_s = 10

{registers}
"""
FIELD = '  [[json.field]]\n  pointer = "/soil/{place}"\n  unit = "{unit}"\n'
REGISTER = (
    '  [[modbus.register]]\n  device = 1\n  register = {place}\n  scale = {scale}\n  unit = "{unit}"\n  address = "mod/{place}"\n'
)
BED = '\n[[bed]]\nid = "{name}"\narea_m2 = 4.0\nsoil = "loam"\n'
SERVER = """
import sys
from pymodbus.server import StartSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice
from pymodbus import FramerType
said = [SimData(0, values=[1750, 1625, 1500, 1450, 214], datatype=DataType.REGISTERS)]
none, bits = [SimData(0, values=[0], datatype=DataType.REGISTERS)], [SimData(0, values=False, datatype=DataType.BITS)]
StartSerialServer([SimDevice(1, simdata=(bits, bits, none, said))], port=sys.argv[1], framer=FramerType.RTU, baudrate=9600)
"""
# How the addresses of each wire's stake are called.
ADDRESSES = {
    "senml": [f"stake/{place}" for place in range(5)],
    "json": [f"bench/7/soil/{place}" for place in range(5)],
    "line": [f"line/{place}" for place in range(5)],
    "sdi": [f"sdi12:0/{place}" for place in range(1, 6)],
    "modbus": [f"mod/{place}" for place in range(5)],
}


def unit(place):
    return "/" if place == 4 else "Cel"


def pack(base):
    """A pack of SenML (RFC 8428) as a stake sends it: one base name, no time."""
    records = [{"n": str(place), "u": unit(place), "v": value} for place, value in enumerate(SAYS)]
    return json.dumps([{"bn": base, **records[0]}, *records[1:]])


def cooldepth(path, *words, fails=False):
    call = [sys.executable, "-m", "collector", words[0], "--garden", str(path), *words[1:]]
    done = subprocess.run(call, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode in ((0, 1) if fails else (0,)), done.stderr
    return done.stdout


@pytest.fixture
def lines(tmp_path):
    """A board on a serial line that says its pack every half second."""
    far, near = os.openpty()
    tty.setraw(near)
    (tmp_path / "serial").symlink_to(os.ttyname(near))
    stop = threading.Event()

    def speak():
        while not stop.wait(0.5):
            os.write(far, pack("line/").encode() + b"\n")

    speaker = threading.Thread(target=speak, daemon=True)
    speaker.start()
    yield
    stop.set()
    speaker.join(5)
    os.close(near)
    os.close(far)


def test_a_stake_on_each_wire_is_heard_claimed_looked_at_and_exported(mosquitto, lines, tmp_path):
    path, log = tmp_path / "garden.toml", tmp_path / "log"
    fields = "\n".join(FIELD.format(place=place, unit=unit(place)) for place in range(5))
    registers = "\n".join(
        REGISTER.format(place=place, scale=0.001 if place == 4 else 0.01, unit=unit(place)) for place in range(5)
    )
    beds = "".join(BED.format(name=name) for name in ADDRESSES)
    path.write_text(GARDEN.format(broker=mosquitto.port, folder=tmp_path, fields=fields, registers=registers) + beds)
    sensor = Sensor(lambda: [f"{value:+g}" for value in SAYS])
    with Bus(tmp_path / "sdi12", {"0": sensor}), Cable(tmp_path) as cable, log.open("w") as out:
        server = subprocess.Popen([sys.executable, "-c", SERVER, str(cable.ends[1])], stderr=subprocess.DEVNULL)
        collector = subprocess.Popen([sys.executable, "-m", "collector", "collect", "--garden", str(path)], stderr=out)
        try:
            wait_for_listener(mosquitto.port, "garden/x")
            wait_for_listener(mosquitto.port, "bench/x")
            told = json.dumps({"soil": SAYS}).encode()
            publish(mosquitto.port, [("garden/stake", pack("stake/").encode()), ("bench/7", told)])

            def strangers():
                return {one["address"]: one for one in json.loads(cooldepth(path, "unclaimed", "--json"))}

            wanted = {address for addresses in ADDRESSES.values() for address in addresses}
            wait_until(lambda: wanted <= set(strangers()), 60)
            for one in strangers().values():
                assert one["may_be"][0] in ("soil_temperature", "soil_moisture")
            # somebody holds one of the stake's: it warms by three degrees while the others rest
            call = [sys.executable, "-m", "collector", "unclaimed", "--garden", str(path), "--in-hand", "30"]
            watch = subprocess.Popen(call, stdout=subprocess.PIPE, text=True)
            warm = json.dumps([{"n": "stake/2", "u": "Cel", "v": SAYS[2] + 3.0}]).encode()
            time.sleep(2)  # it has seen how warm they were
            wait_until(lambda: publish(mosquitto.port, [("garden/stake", warm)]) or watch.poll() is not None, 40)
            assert watch.communicate()[0].startswith("stake/2  +3.0 K, now 18.0 °C (not claimed yet)")
            for bed, addresses in ADDRESSES.items():
                for address, depth_cm, quantity in zip(addresses, (*DEPTHS_CM, 10), QUANTITIES, strict=True):
                    if bed == "senml":
                        cooldepth(path, "claim", address, "--bed", bed, "--depth-cm", str(depth_cm))
                    else:  # what that command does
                        with wiring.open_claims(path) as claims:
                            claims.claim(address, bed, quantity, depth_cm / 100)
            publish(mosquitto.port, [("garden/stake", pack("stake/").encode()), ("bench/7", told)])

            def looks():
                return json.loads(cooldepth(path, "mounted", "--json", fails=True))

            # each speaks and is not odd, and the order waits for two days
            wait_until(lambda: len([one for one in looks() if " readings in this hour" in one["words"]]) >= 20, 60)
            assert len(looks()) == 25 + len(ADDRESSES)
            assert "odd" not in {one["how"] for one in looks()}
            assert sum("shows after two days" in one["words"] for one in looks()) == len(ADDRESSES)

            def exported():
                rows = csv.DictReader(io.StringIO(cooldepth(path, "export")))
                return {row["probe"]: float(row["value"]) for row in rows}

            wait_until(lambda: len(exported()) == 25, 60)
            for bed in ADDRESSES:
                names = (*(f"{bed}-t{depth_cm}" for depth_cm in DEPTHS_CM), f"{bed}-m10")
                assert [exported()[name] for name in names] == pytest.approx(SAYS)
        finally:
            for program in (collector, server):
                program.terminate()
            collector.wait(20)
            server.wait(20)
