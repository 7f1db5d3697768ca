"""The keys of the garden file that tell of wires: the broker, serial lines, and what does not speak SenML. Pure."""

from __future__ import annotations

from collector.garden_key import Key, Kind

# Data bits, parity and stop bits that serial lines of probes have.
FRAMES = ("7E1", "7O1", "8N1", "8E1", "8O1", "8N2")

WIRE_KEYS: tuple[Key, ...] = (
    Key("mqtt", "host", Kind.TEXT, 'name or address of the broker; "embedded" starts one, for trying out', required=True),
    Key("mqtt", "port", Kind.WHOLE, "port of the broker, with TLS mostly 8883", default=1883, low=1, high=65535),
    Key("mqtt", "topics", Kind.TEXTS, "topic filters to listen to", required=True),
    Key(
        "mqtt",
        "client_id",
        Kind.TEXT,
        "name at the broker, no two programs may share it; {host} in it stands for the computer's name",
        default="cooldepth",
    ),
    Key("mqtt", "tls", Kind.FLAG, "speak TLS; the broker's certificate and its name are checked, always", default=False),
    Key(
        "mqtt",
        "ca_file",
        Kind.TEXT,
        "with tls: who signs the broker's certificate; relative to this file",
    ),
    Key("mqtt", "cert_file", Kind.TEXT, "with tls: own certificate, for brokers that ask for one; relative to this file"),
    Key(
        "mqtt",
        "key_file",
        Kind.TEXT,
        "with tls: its key, that only the collector's user may read; relative to this file",
    ),
    Key("mqtt", "shared_group", Kind.TEXT, "collectors with the same name here share the messages; each needs its own client_id"),
    Key("serial", "port", Kind.TEXT, "device, as /dev/ttyUSB0", required=True),
    Key("serial", "baud", Kind.WHOLE, "speed of the line", "bit/s", default=9600, low=50, high=4_000_000),
    Key("json", "topic", Kind.TEXT, "topic filter of messages in JSON that is no SenML"),
    Key("json", "port", Kind.TEXT, "or the serial port, one of [[serial]], whose lines are such JSON"),
    Key("json", "address", Kind.TEXT, "how the addresses of its fields begin; the topic if left out"),
    Key("json", "time", Kind.TEXT, 'where the time of measurement stands, as "/ts" (JSON Pointer); when it came if left out'),
    Key(
        "json",
        "time_in",
        Kind.TEXT,
        "how that time is told: seconds or milliseconds since 1970, or ISO 8601",
        default="s",
        choices=("s", "ms", "iso"),
    ),
    Key("json.field", "pointer", Kind.TEXT, 'where the number stands, as "/soil/0/t" (JSON Pointer)', required=True),
    Key("json.field", "unit", Kind.TEXT, "its SenML unit, as Cel; none for a ratio"),
    Key("json.field", "address", Kind.TEXT, "how its address ends; its pointer if left out"),
    Key("sdi12", "port", Kind.TEXT, "serial adapter with the SDI-12 bus, as /dev/ttyUSB0", required=True),
    Key("sdi12", "name", Kind.TEXT, "how the addresses of its values begin: NAME:SENSOR/PLACE", default="sdi12"),
    Key("sdi12", "every_s", Kind.WHOLE, "how often each sensor is asked", "s", default=600, low=10, high=86_400),
    Key("sdi12", "baud", Kind.WHOLE, "speed of the adapter", "bit/s", default=1200, low=50, high=4_000_000),
    Key("sdi12", "frame", Kind.TEXT, "data bits, parity, stop bits of the adapter", default="7E1", choices=FRAMES),
    Key("sdi12", "crc", Kind.FLAG, "ask for answers with a check (SDI-12 from version 1.3 on)", default=True),
    Key("sdi12.sensor", "address", Kind.TEXT, "its address on the bus, one sign", required=True),
    Key("sdi12.sensor", "command", Kind.TEXT, "how it is asked: M, M1 to M9, or C, C1 to C9", default="M"),
    Key(
        "sdi12.sensor",
        "units",
        Kind.TEXTS,
        'the SenML units of its values in their order, as ["Cel", "/"]; "-" passes one over',
        required=True,
    ),
    Key("modbus", "port", Kind.TEXT, "serial port with Modbus RTU devices, as /dev/ttyUSB0", required=True),
    Key("modbus", "every_s", Kind.WHOLE, "how often each device is asked", "s", default=600, low=10, high=86_400),
    Key("modbus", "baud", Kind.WHOLE, "speed of the line", "bit/s", default=9600, low=50, high=4_000_000),
    Key("modbus", "frame", Kind.TEXT, "data bits, parity, stop bits", default="8N1", choices=FRAMES),
    Key(
        "modbus",
        "word_order",
        Kind.TEXT,
        "which of two registers comes first in a number of 32 bits",
        default="big",
        choices=("big", "little"),
    ),
    Key("modbus.register", "device", Kind.WHOLE, "number of the device", required=True, low=1, high=247),
    Key("modbus.register", "register", Kind.WHOLE, "of the number, counted from 0", required=True, low=0, high=65_535),
    Key("modbus.register", "kind", Kind.TEXT, "which registers", default="input", choices=("input", "holding")),
    Key(
        "modbus.register",
        "type",
        Kind.TEXT,
        "of the number",
        default="int16",
        choices=("int16", "uint16", "int32", "uint32", "float32"),
    ),
    Key("modbus.register", "scale", Kind.NUMBER, "what the number is multiplied by, as 0.1", default=1.0, low=-1e6, high=1e6),
    Key("modbus.register", "unit", Kind.TEXT, "SenML unit of it then; none for a ratio"),
    Key("modbus.register", "address", Kind.TEXT, "what it is called, its own in this garden", required=True),
)
