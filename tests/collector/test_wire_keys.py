"""Wires that do not speak SenML, as the garden file tells of them."""

from pathlib import Path

import pytest

from collector.errors import GardenFileError
from collector.garden_file import parse
from collector.settings import JsonField, JsonSettings, ModbusRegister, ModbusSettings, Sdi12Sensor, Sdi12Settings, TlsSettings

HEAD = """
[garden]
latitude_deg = 36.0
longitude_deg = -5.0
[store]
path = "garden.db"
[[bed]]
id = "upper"
"""
SERIAL = '[[serial]]\nport = "/dev/ttyUSB0"\n'
FIELD = '[[json.field]]\npointer = "/soil/0/t"\nunit = "Cel"\n'
JSON = '[[json]]\ntopic = "bench/+"\ntime = "/ts"\ntime_in = "ms"\n' + FIELD
SDI12 = '[[sdi12]]\nport = "/dev/ttyUSB1"\n[[sdi12.sensor]]\naddress = "0"\nunits = ["Cel", "-", "/"]\n'
MODBUS = (
    '[[modbus]]\nport = "/dev/ttyUSB2"\nframe = "8E1"\n[[modbus.register]]\ndevice = 1\nregister = 30\ntype = "float32"\n'
    'unit = "Cel"\naddress = "soil/t"\n'
)


def garden(more):
    return parse(HEAD + more, "garden.toml", {}, Path(), secrets=False)


def test_what_they_say_becomes_their_settings():
    found = garden(SERIAL + JSON + SDI12 + MODBUS)
    assert found.json == (JsonSettings((JsonField("/soil/0/t", "Cel"),), topic="bench/+", time="/ts", time_in="ms"),)
    assert found.sdi12 == (Sdi12Settings("/dev/ttyUSB1", (Sdi12Sensor("0", ("Cel", "", "/")),)),)
    assert found.modbus == (
        ModbusSettings("/dev/ttyUSB2", (ModbusRegister(1, 30, "input", "float32", "Cel", "soil/t"),), frame="8E1"),
    )


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("[[json]]\n" + FIELD, "json[1]: want topic or port, one of the two"),
        (SERIAL + '[[json]]\ntopic = "a"\nport = "/dev/ttyUSB0"\n' + FIELD, "json[1]: want topic or port, one of the two"),
        ('[[json]]\nport = "/dev/ttyUSB9"\n' + FIELD, "json[1].port: /dev/ttyUSB9 is no port of [[serial]]"),
        ('[[json]]\ntopic = "a"\n', "json[1]: want [[json.field]]"),
        (JSON.replace("/soil/0/t", "soil"), 'json[1].field[1].pointer: "soil" is no JSON Pointer'),
        (JSON.replace('"/ts"', '"ts"'), 'json[1].time: "ts" is no JSON Pointer'),
        (JSON.replace('"ms"', '"minutes"'), 'json[1].time_in = "minutes": want'),
        (SDI12.replace('"0"', '"00"'), 'sensor[1].address: "00" is no address of SDI-12'),
        (SDI12 + 'command = "X"\n', 'sensor[1].command: "X" is no way to ask'),
        ('[[sdi12]]\nport = "/dev/ttyUSB1"\n', "sdi12[1]: want [[sdi12.sensor]]"),
        (SDI12 + '[[sdi12.sensor]]\naddress = "0"\nunits = ["Cel"]\n', "sensor 0 is asked for M twice"),
        (SDI12.replace("[[sdi12.sensor]]", 'name = "my bus"\n[[sdi12.sensor]]'), "sdi12[1].name: want letters"),
        (SERIAL + SDI12.replace("USB1", "USB0"), "sdi12[1].port: /dev/ttyUSB0 is named before"),
        (SDI12 + MODBUS.replace("USB2", "USB1"), "modbus[1].port: /dev/ttyUSB1 is named before"),
        (MODBUS.replace("soil/t", "soil t"), "register[1].address: want letters"),
        ('[[modbus]]\nport = "/dev/ttyUSB2"\n', "modbus[1]: want [[modbus.register]]"),
        (MODBUS + MODBUS[MODBUS.index("[[modbus.register]]") :], "register[2].address: soil/t is named before"),
        (MODBUS.replace("device = 1", "device = 0"), "register[1].device = 0: want"),
        (MODBUS.replace("8E1", "9E1"), 'modbus[1].frame = "9E1": want'),
    ],
)
def test_what_cannot_be_is_told_where_it_stands(more, told):
    with pytest.raises(GardenFileError) as refused:
        garden(more)
    assert told in str(refused.value)


MQTT = '[mqtt]\nhost = "broker.example.org"\ntopics = ["garden/#"]\n'
PAPERS = 'tls = true\nca_file = "papers/ours.crt"\ncert_file = "papers/own.crt"\nkey_file = "papers/own.key"\n'


def test_tls_files_stand_relative_to_the_garden_file_and_without_tls_there_is_none():
    found = parse(HEAD + MQTT + PAPERS, "garden.toml", {}, Path("/etc/garden"), secrets=False).mqtt
    assert found.tls == TlsSettings(*(Path("/etc/garden/papers") / name for name in ("ours.crt", "own.crt", "own.key")))
    assert garden(MQTT + "tls = true\n").mqtt.tls == TlsSettings()
    assert garden(MQTT).mqtt.tls is None


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (MQTT + 'ca_file = "ours.crt"\n', "mqtt.ca_file: it is for TLS; add tls = true"),
        (MQTT + 'tls = true\ncert_file = "own.crt"\n', "cert_file and key_file belong together; give both or none"),
        (MQTT.replace("broker.example.org", "embedded") + "tls = true\n", "mqtt.tls: the embedded broker speaks none"),
    ],
)
def test_what_does_not_go_together_with_tls_is_told(more, words):
    with pytest.raises(GardenFileError, match=words):
        garden(more)
