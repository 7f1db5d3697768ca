"""The garden file: TOML in, a Garden out, or every problem at once.

Three steps: the document is held against the table of keys, then against what one key says
of another, and a garden is built only where neither found a problem.
"""

from __future__ import annotations

import datetime as dt
import difflib
import math
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from collector.errors import GardenFileError
from collector.garden_key import Key, Kind, fits
from collector.garden_keys import KEYS, LISTS, TABLES, header, keys_of
from collector.garden_rules import Node, broken_rules, field_capacity, is_variable_name, own_limits, time_of_day, wilting_point
from collector.model import Bed, Cover, Feed, Garden, Injector, Place, Planting, Probe
from collector.secrets import INFLUX_TOKEN, MQTT_PASSWORD, MQTT_USER, WEATHER_KEY, SecretError, secret
from collector.settings import (
    JsonField,
    JsonSettings,
    ModbusRegister,
    ModbusSettings,
    MqttSettings,
    NotifySettings,
    Sdi12Sensor,
    Sdi12Settings,
    SerialSettings,
    StoreSettings,
    TlsSettings,
    WeatherSettings,
)
from collector.units import Quantity, UnitSystem
from collector.wire_rules import PASSED_OVER

_SECRET_NAMES = ("password", "user", "username", "token", "secret")


def read(path: Path, environ: Mapping[str, str], *, secrets: bool = True) -> Garden:
    """The garden of the file at `path`. Raises GardenFileError with every problem at once.

    With `secrets`, what the environment must hold is asked for and missing it is a problem;
    without, it is taken where it is there: a NotifySettings without its URL has an empty one.
    """
    where = str(path)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise GardenFileError(where, ["there is no such file; give the path of a garden file with --garden"]) from None
    except IsADirectoryError:
        raise GardenFileError(where, ["this is a folder; give the path of the garden file in it"]) from None
    except OSError as error:
        raise GardenFileError(where, [f"cannot be read ({error.strerror}); give this user the right to read it"]) from error
    try:
        text = raw.decode("utf-8-sig")  # some editors begin a file with a byte order mark
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = error.start - raw.rfind(b"\n", 0, error.start)
        problem = f"line {line}, column {column}: byte 0x{raw[error.start]:02x} is not UTF-8; save the file as UTF-8"
        raise GardenFileError(where, [problem]) from None
    return parse(text, where, environ, path.parent, secrets=secrets)


def parse(text: str, where: str, environ: Mapping[str, str], folder: Path, *, secrets: bool = True) -> Garden:
    """The garden that `text` describes; relative paths in it are relative to `folder`. See `read`."""
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise GardenFileError(where, [f"this is not TOML: {error}"]) from None
    walk = _Walk()
    root = walk.node("", document, "")
    wallet = _Wallet(environ, must_have=secrets)
    problems = [*walk.problems, *broken_rules(root)]
    for node in root.children["notify"]:
        if node["url_env"] and is_variable_name(node["url_env"]):
            wallet.need(node["url_env"], f"{node.path}.url_env")
    if root.children["mqtt"]:
        wallet.take(MQTT_USER)
        wallet.take(MQTT_PASSWORD)
    if root.children["weather"]:
        wallet.take(WEATHER_KEY)
    if any(node["kind"] == "influx" for node in root.children["store"]):
        wallet.take(INFLUX_TOKEN)
    problems += wallet.problems
    if problems:
        raise GardenFileError(where, problems)
    return _garden(root, folder, wallet)


class _Walk:
    """Holds a document against the table of keys; gives a tree in which every key has a fitting value or None."""

    def __init__(self) -> None:
        self.problems: list[str] = []

    def node(self, table: str, raw: dict[str, Any], path: str) -> Node:
        """The table and all below it."""
        keys = keys_of(table)
        below = {name.rpartition(".")[2]: name for name in TABLES if name.rpartition(".")[0] == table}
        prefix = path + "." if path else ""
        misspelt = set()
        for name in [name for name in raw if name not in keys and name not in below]:
            meant = _meant(name, [*keys, *below])
            misspelt.add(meant)
            shown = name if name.isprintable() else _quoted(name)
            self.problems.append(f"{prefix}{shown}: {_unknown(name, meant, table, [*keys, *below])}")
        # What is there under a wrong name is not missing too: one mistake is told once.
        missing = keys.keys() - raw.keys() - misspelt
        self.problems += [
            f"{prefix}{name}: missing; want {key.wanted}: {key.about}"
            for name, key in keys.items()
            if key.required and name in missing
        ]
        return Node(
            path=path,
            missing=frozenset(missing),
            values={
                name: self._value(key, raw[name], prefix + name) if name in raw else key.default for name, key in keys.items()
            },
            children={name: self._below(full, raw, prefix + name, needed=name not in misspelt) for name, full in below.items()},
        )

    def _value(self, key: Key, value: Any, path: str) -> Any:
        if fits(key, value):
            return float(value) if key.kind is Kind.NUMBER else value
        self.problems.append(f"{path} = {_shown(value)}: want {key.wanted}{_nearest(value, key.choices)}")
        return None

    def _below(self, table: str, raw: dict[str, Any], path: str, *, needed: bool) -> list[Node]:
        name = table.rpartition(".")[2]
        if name not in raw:
            if needed and table in ("garden", "store", "bed"):
                self.problems.append(f"{path}: missing; a garden file needs {header(table)}")
            return []
        many = table in LISTS
        found = raw[name] if isinstance(raw[name], list) else [raw[name]]
        tables = [one for one in found if isinstance(one, dict)]
        if isinstance(raw[name], list) != many or len(tables) != len(found) or not found:
            brackets = "double brackets, once for each" if many else "single brackets, once only"
            self.problems.append(f"{path}: want {header(table)} in {brackets}")
        return [
            self.node(table, one, f"{path}[{_label(one, number)}]" if many else path)
            for number, one in enumerate(tables, start=1)
        ]


class _Wallet:
    """Secrets, and the problems of those that cannot be had."""

    def __init__(self, environ: Mapping[str, str], *, must_have: bool) -> None:
        self.problems: list[str] = []
        self._environ = environ
        self._must_have = must_have

    def take(self, name: str) -> str | None:
        """The secret of that name, or None."""
        try:
            return secret(self._environ, name)
        except SecretError as error:
            self._tell(str(error))
            return None

    def need(self, name: str, path: str) -> None:
        """Not to have the secret of that name is a problem of the key at `path`."""
        told = len(self.problems)
        if self.take(name) is None and len(self.problems) == told:
            self._tell(f"{path}: the environment variable {name} is not set; set it, or {name}_FILE to a file that holds it")

    def _tell(self, problem: str) -> None:
        if self._must_have and problem not in self.problems:
            self.problems.append(problem)


def _meant(name: str, known: list[str]) -> str | None:
    """The known name that an unknown one is most like; none for a name that has its place elsewhere."""
    if name in _SECRET_NAMES or any(key.name == name for key in KEYS):
        return None
    return next(iter(difflib.get_close_matches(name, known, 1)), None)


def _unknown(name: str, meant: str | None, table: str, known: list[str]) -> str:
    if name in _SECRET_NAMES:
        return "unknown key; secrets do not live in this file but in the environment, as COOLDEPTH_MQTT_PASSWORD"
    if meant:
        return f"unknown key; did you mean {meant}?"
    if elsewhere := [header(key.table) for key in KEYS if key.name == name]:
        return f"unknown key here; it belongs under {' or '.join(elsewhere)}"
    return f"unknown key; {header(table) + ' knows' if table else 'this file knows'} {', '.join(known)}"


def _nearest(value: object, choices: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(value, choices, 1) if isinstance(value, str) else []
    return f"; did you mean {near[0]}?" if near else ""


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, dict):
        return "a table"
    text = repr(value)
    return text if len(text) <= 60 else text[:60] + "…"


def _quoted(text: str) -> str:
    if "://" in text:
        return "(an address)"  # which may hold a secret
    short = text if len(text) <= 60 else text[:60] + "…"
    return '"' + "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in short) + '"'


def _label(table: dict[str, Any], number: int) -> str:
    id_ = table.get("id")
    return id_ if isinstance(id_, str) and id_.strip() and id_.isprintable() else str(number)


# ---------------------------------------------------------------- building what is known to be sound


def _garden(root: Node, folder: Path, wallet: _Wallet) -> Garden:
    about, store = root.children["garden"][0], root.children["store"][0]
    return Garden(
        name=about["name"],
        latitude_deg=about["latitude_deg"],
        longitude_deg=about["longitude_deg"],
        elevation_m=about["elevation_m"],
        timezone=about["timezone"],
        units=UnitSystem(about["units"]),
        store=_store(store, folder, wallet),
        beds=tuple(_bed(node) for node in root.children["bed"]),
        mqtt=next((_mqtt(node, wallet, folder) for node in root.children["mqtt"]), None),
        serial=tuple(SerialSettings(node["port"], node["baud"]) for node in root.children["serial"]),
        json=tuple(map(_json, root.children["json"])),
        sdi12=tuple(map(_sdi12, root.children["sdi12"])),
        modbus=tuple(map(_modbus, root.children["modbus"])),
        notify=tuple(_notify(node, wallet) for node in root.children["notify"]),
        feeds=tuple(_feed(node) for node in root.children["feed"]),
        injector=next((_injector(node) for node in root.children["feeding"] if node["injector"] is not None), None),
        tank_l=next((node["tank_l"] for node in root.children["feeding"]), None),
        limits={name: value for node in root.children["limits"] for name, value in own_limits(node).items()},
        daylength=next((node["daylength"] for node in root.children["limits"]), None),
        metrics_port=next((node["port"] for node in root.children["metrics"]), None),
        weather=next((_weather(node, wallet, folder) for node in root.children["weather"]), None),
        simulated=about["simulated"],
        address=next((node["address"] for node in root.children["pages"]), None),
    )


def _store(node: Node, folder: Path, wallet: _Wallet) -> StoreSettings:
    path = folder / node["path"]
    if node["kind"] == "sqlite":
        return StoreSettings(path, keep_raw_days=node["keep_raw_days"])
    token, most_bytes = wallet.take(INFLUX_TOKEN), node["queue_most_mb"] * 1_000_000
    return StoreSettings(path, node["kind"], node["url"], node["org"], node["bucket"], token, most_bytes)


def _bed(node: Node) -> Bed:
    return Bed(
        id=node["id"],
        name=node["name"] or node["id"],
        area_m2=_or_nan(node["area_m2"]),
        soil=node["soil"],
        field_capacity=_or_nan(field_capacity(node)),
        wilting_point=_or_nan(wilting_point(node)),
        cool_limit_c=node["cool_limit_c"],
        hose_l_min=node["hose_l_min"],
        white_rot=node["white_rot"],
        nitrogen_g_m2=node["nitrogen_g_m2"],
        nitrogen_at_planting_g_m2=node["nitrogen_at_planting_g_m2"],
        leaf_count_every_d=node["leaf_count_days"],
        shade_cloth=None if node["shade_cloth_pct"] is None else node["shade_cloth_pct"] / 100.0,
        root_depth_m=_metres(node["root_depth_cm"]),
        watering_efficiency=node["watering_efficiency"],
        covers=tuple(Cover(one["material"], _metres(one["thickness_cm"]), one["since"]) for one in node.children["cover"]),
        plantings=tuple(_planting(one) for one in node.children["planting"]),
        probes=tuple(_probe(one, node["id"]) for one in node.children["probe"]),
    )


def _planting(node: Node) -> Planting:
    return Planting(
        variety=node["variety"],
        depth_m=_metres(node["depth_cm"]),
        planted=node["planted"],
        kind=node["kind"],
        plants=node["plants"],
        chilled_days=node["chilled_days"],
        chilled_at_c=node["chilled_at_c"],
    )


def _probe(node: Node, bed_id: str) -> Probe:
    depth_m = None if node["depth_cm"] is None else _metres(node["depth_cm"])
    return Probe(node["id"], bed_id, Quantity(node["quantity"]), node["address"], depth_m, Place(node["place"]), node["low_v"])


def _feed(node: Node) -> Feed:
    return Feed(node["name"], node["n_pct"], node["p2o5_pct"], node["k2o_pct"], node["density_kg_l"])


def _injector(node: Node) -> Injector:
    counts = node["injector_counts"]
    return Injector(node["injector"], None if counts is None else counts == "parts of mix")


def _mqtt(node: Node, wallet: _Wallet, folder: Path) -> MqttSettings:
    user, password = wallet.take(MQTT_USER), wallet.take(MQTT_PASSWORD)
    where = (node["host"], tuple(node["topics"]), node["port"], node["client_id"])
    files = (node["ca_file"], node["cert_file"], node["key_file"])
    tls = TlsSettings(*(None if name is None else folder / name for name in files)) if node["tls"] else None
    return MqttSettings(*where, user, password, node["shared_group"], tls)


def _json(node: Node) -> JsonSettings:
    fields = tuple(JsonField(one["pointer"], one["unit"], one["address"]) for one in node.children["field"])
    return JsonSettings(fields, node["topic"], node["port"], node["address"], node["time"], node["time_in"])


def _sdi12(node: Node) -> Sdi12Settings:
    sensors = tuple(
        Sdi12Sensor(one["address"], tuple("" if unit == PASSED_OVER else unit for unit in one["units"]), one["command"])
        for one in node.children["sensor"]
    )
    how = (node["name"], node["every_s"], node["baud"], node["frame"], node["crc"])
    return Sdi12Settings(node["port"], sensors, *how)


def _modbus(node: Node) -> ModbusSettings:
    registers = tuple(
        ModbusRegister(one["device"], one["register"], one["kind"], one["type"], one["unit"], one["address"], one["scale"])
        for one in node.children["register"]
    )
    return ModbusSettings(node["port"], registers, node["every_s"], node["baud"], node["frame"], node["word_order"])


def _notify(node: Node, wallet: _Wallet) -> NotifySettings:
    quiet_from, quiet_to = map(time_of_day, node["quiet_hours"] or ("", ""))
    summary_at = None if node["summary_at"] is None else time_of_day(node["summary_at"])
    url = wallet.take(node["url_env"]) or ""
    told = (node["dug_up_at_once"], summary_at, node["remind_after_h"], node["summary_only"])
    return NotifySettings(url, node["url_env"], quiet_from, quiet_to, *told)


def _weather(node: Node, wallet: _Wallet, folder: Path) -> WeatherSettings:
    file = None if node["file"] is None else folder / node["file"]
    return WeatherSettings(node["source"], node["url"], node["every_h"], wallet.take(WEATHER_KEY), file)


def _metres(centimetres: float) -> float:
    return round(centimetres / 100, 9)  # 7 cm is 0.07 m and not 0.07000000000000001


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value
