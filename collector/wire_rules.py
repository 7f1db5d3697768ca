"""What one key of the garden file says of another, where it tells of wires that do not speak SenML."""

from __future__ import annotations

from collections.abc import Iterator

from collector.decode import pointer, sdi12, senml
from collector.garden_node import Node

PASSED_OVER = "-"


def broken(root: Node) -> Iterator[str]:
    """A sentence for each rule that such tables break, beginning with the path of the key."""
    ports = [node["port"] for node in root.children["serial"]]
    for node in root.children["json"]:
        yield from _json(node, ports)
    taken = list(ports)
    for table in ("sdi12", "modbus"):
        for node in root.children[table]:
            if node["port"] is not None and node["port"] in taken:
                yield f"{node.path}.port: {node['port']} is named before; one port is one wire"
            taken.append(node["port"])
    for node in root.children["sdi12"]:
        yield from _sdi12(node)
    for node in root.children["modbus"]:
        yield from _modbus(node)


def _json(node: Node, ports: list[str | None]) -> Iterator[str]:
    both_told = node["topic"] is not None and node["port"] is not None
    if both_told or {"topic", "port"} <= node.missing:
        yield f"{node.path}: want topic or port, one of the two, to say whose messages are read so"
    if node["port"] is not None and node["port"] not in ports:
        yield f"{node.path}.port: {node['port']} is no port of [[serial]]; add it there"
    if not node.children["field"]:
        yield f"{node.path}: want [[json.field]], once for each number that is to be read"
    for one, name in [(node, "time"), *((field, "pointer") for field in node.children["field"])]:
        if one[name] is not None and not pointer.is_pointer(one[name]):
            yield f'{one.path}.{name}: "{one[name]}" is no JSON Pointer; want one as /soil/0/t, with ~1 for a / in a name'


def _sdi12(node: Node) -> Iterator[str]:
    if node["name"] is not None and not senml.is_name(node["name"]):
        yield f"{node.path}.name: want letters, digits and - : . / _ only, a letter or digit first"
    if not node.children["sensor"]:
        yield f"{node.path}: want [[sdi12.sensor]], once for each sensor on the bus"
    seen = set()
    for sensor in node.children["sensor"]:
        address, command = sensor["address"], sensor["command"]
        if address is not None and (len(address) != 1 or address not in sdi12.ADDRESSES):
            yield f'{sensor.path}.address: "{address}" is no address of SDI-12; want one digit or letter'
        if command is not None and sdi12.COMMAND.fullmatch(command) is None:
            yield f'{sensor.path}.command: "{command}" is no way to ask; want M, M1 to M9, C, or C1 to C9'
        if None not in (address, command) and (address, command) in seen:
            yield f"{sensor.path}: sensor {address} is asked for {command} twice; want it once"
        seen.add((address, command))


def _modbus(node: Node) -> Iterator[str]:
    if not node.children["register"]:
        yield f"{node.path}: want [[modbus.register]], once for each number that is to be read"
    seen = set()
    for register in node.children["register"]:
        address = register["address"]
        if address is not None and not senml.is_name(address):
            yield f"{register.path}.address: want letters, digits and - : . / _ only, a letter or digit first"
        if address is not None and address in seen:
            yield f"{register.path}.address: {address} is named before; each number has its own"
        seen.add(address)
