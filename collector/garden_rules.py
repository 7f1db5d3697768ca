"""What one key of the garden file says of another: the second reading of the document.

Everything here is told values that already fit their keys; one that did not is None and its
problem is told already, so a rule is silent about it. Pure but for the time zone database.
"""

from __future__ import annotations

import datetime as dt
import difflib
import itertools
import json
import zoneinfo
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from urllib.parse import urlsplit

from collector import wire_rules
from collector.crop.method import USUAL
from collector.decode import senml
from collector.garden_node import Node as Node
from collector.soil.textures import TEXTURES, Texture
from collector.units import Quantity

_IN_SOIL = {Quantity.SOIL_TEMPERATURE.value, Quantity.SOIL_MOISTURE.value}
# Ours: room for what is added to it, and a name to be read in a broker's log.
CLIENT_ID_CHARACTERS = 128
_INFLUX_KEYS = ("url", "org", "bucket", "queue_most_mb")


def broken_rules(root: Node) -> Iterator[str]:
    """A sentence for each rule that the document breaks, beginning with the path of the key."""
    beds = root.children["bed"]
    probes = [probe for bed in beds for probe in bed.children["probe"]]
    quiet = any(node["quiet_hours"] or node["summary_at"] for node in root.children["notify"])
    for garden in root.children["garden"]:
        yield from _timezone(garden, quiet)
    for store in root.children["store"]:
        yield from _store(store)
    for mqtt in root.children["mqtt"]:
        yield from _topics(mqtt)
    yield from wire_rules.broken(root)
    for notify in root.children["notify"]:
        yield from _notify(notify)
    for pages in root.children["pages"]:
        address = pages["address"]
        if address is not None and not (_is_server(address) and urlsplit(address).path in ("", "/")):
            yield f"{pages.path}.address: want the address of a server alone, as https://garden.example.org or http://192.0.2.7:8050"
    for weather in root.children["weather"]:
        yield from _weather(weather)
        if weather["source"] == "open-meteo" and any(garden["simulated"] for garden in root.children["garden"]):
            yield f"{weather.path}: a simulated garden has no weather but its own; remove [weather], or simulated = true"
    for limits in root.children["limits"]:
        yield from _limits(limits)
    for feed in root.children["feed"]:
        yield from _feed(feed)
    yield from _twice(root.children["feed"], "name")
    yield from _twice(root.children["serial"], "port")
    yield from _twice(beds, "id")
    yield from _twice(probes, "id")
    yield from _twice(probes, "address")
    for probe in probes:
        if probe["address"] is not None and not senml.is_name(probe["address"]):
            yield (
                f'{probe.path}.address: "{probe["address"][:80]}" can be no SenML name, so nothing could ever come from it; '
                "want letters, digits and - : . / _ only, a letter or digit first"
            )
    if any(store["kind"] == "influx" for store in root.children["store"]):
        for node in (*beds, *probes):
            if node["id"] is not None and node["id"].endswith("\\"):
                yield f"{node.path}.id: InfluxDB can hold no name with a backslash at its end; want another"
    for bed in beds:
        yield from _bed(bed)


def field_capacity(bed: Node) -> float | None:
    """Field capacity [m³/m³]: the bed's own, else the middle of its texture's range, else None."""
    return _own_or_texture(bed, "field_capacity", lambda texture: texture.field_capacity_mid)


def wilting_point(bed: Node) -> float | None:
    """Wilting point [m³/m³]: the bed's own, else the middle of its texture's range, else None."""
    return _own_or_texture(bed, "wilting_point", lambda texture: texture.wilting_point_mid)


def is_variable_name(text: str) -> bool:
    """Whether an environment variable may be called so."""
    return text.isascii() and text.isidentifier()


def time_of_day(text: str) -> dt.time | None:
    """The time that "HH:MM" tells, None for anything else."""
    hours, colon, minutes = text.partition(":")
    if not (colon and len(hours) == len(minutes) == 2 and (hours + minutes).isascii() and (hours + minutes).isdigit()):
        return None
    return dt.time(int(hours), int(minutes)) if int(hours) < 24 and int(minutes) < 60 else None


def own_limits(limits: Node) -> dict[str, float]:
    """The limits of the season that the grower set, by name."""
    return {
        name: value
        for name, value in limits.values.items()
        if name != "daylength" and name not in limits.missing and value is not None
    }


def _limits(limits: Node) -> Iterator[str]:
    own = own_limits(limits)
    method = USUAL.with_own(own)
    values = {name: limit.value for name, limit in method.named().items()}
    for low, high in method.misordered():
        what = high if high in own else low
        yield f"{limits.path}.{what}: want {low} below {high}; they are {values[low]:g} and {values[high]:g}"


def _feed(feed: Node) -> Iterator[str]:
    parts = [feed[name] for name in ("n_pct", "p2o5_pct", "k2o_pct")]
    if None not in parts and sum(parts) > 100.0:
        yield f"{feed.path}: its parts are {sum(parts):g} % in all; want no more than 100, as on the label"


def _own_or_texture(bed: Node, name: str, of_texture: Callable[[Texture], float]) -> float | None:
    own: float | None = bed[name]
    if own is None and bed["soil"] is not None:
        return of_texture(TEXTURES[bed["soil"]])
    return own


def _timezone(garden: Node, quiet: bool) -> Iterator[str]:
    name = garden["timezone"]
    path = f"{garden.path}.timezone"
    if name is None:
        return
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):  # not there, a path out of the database, a folder in it
        near = difflib.get_close_matches(name, zoneinfo.available_timezones(), 1)
        yield f'{path} = "{name}": no such time zone' + (f"; did you mean {near[0]}?" if near else "; want one as Europe/Lisbon")
    if quiet and "timezone" in garden.missing:
        yield (
            f"{path}: missing; quiet hours and a morning's summary need to know what time it is in the garden; "
            "want one as Europe/Lisbon"
        )


def _store(store: Node) -> Iterator[str]:
    for name in _INFLUX_KEYS:
        if store["kind"] == "influx" and store[name] is None:
            yield f'{store.path}.{name}: missing; kind = "influx" needs it'
        if store["kind"] == "sqlite" and name not in store.missing and store[name] is not None:
            yield f'{store.path}.{name}: has no meaning with kind = "sqlite"; remove it, or set kind = "influx"'
    if store["kind"] == "influx" and store["keep_raw_days"] is not None:
        yield f'{store.path}.keep_raw_days: has no meaning with kind = "influx"; there the bucket\'s own retention says it'
    if store["url"] is not None and not _is_server(store["url"]):
        yield (
            f"{store.path}.url: want an address that begins with http:// or https:// and names a server alone; "
            "the token belongs in the environment, as COOLDEPTH_INFLUX_TOKEN"
        )


def _topics(mqtt: Node) -> Iterator[str]:
    for topic in mqtt["topics"] or ():
        # MQTT 5, section 4.7.1: + stands for one whole level, # for all that follow, at the end.
        *before, last = topic.split("/")
        whole = all(level == "+" for level in (*before, last) if "+" in level)
        if not whole or any("#" in level for level in before) or ("#" in last and last != "#"):
            yield f'{mqtt.path}.topics: "{topic}" is no topic filter; want + as a whole level, # as the last, as in garden/#'
    for one, other in itertools.combinations(mqtt["topics"] or (), 2):
        if _overlap(one.split("/"), other.split("/")):
            yield f'{mqtt.path}.topics: "{one}" and "{other}" overlap, so the broker may send one message twice; keep the wider'
    group = mqtt["shared_group"]
    if group is not None and any(sign in group for sign in "/+#"):
        yield f'{mqtt.path}.shared_group: "{group}"; want a name without / + and # (MQTT 5, section 4.8.2)'
    if not mqtt["tls"]:
        for name in ("ca_file", "cert_file", "key_file"):
            if mqtt[name] is not None:
                yield f"{mqtt.path}.{name}: it is for TLS; add tls = true"
    elif mqtt["host"] == "embedded":
        yield f"{mqtt.path}.tls: the embedded broker speaks none, and listens on this computer alone"
    if (mqtt["cert_file"] is None) != (mqtt["key_file"] is None):
        yield f"{mqtt.path}: cert_file and key_file belong together; give both or none"
    if len(mqtt["client_id"] or "") > CLIENT_ID_CHARACTERS:
        yield f"{mqtt.path}.client_id: {len(mqtt['client_id'])} characters; want at most {CLIENT_ID_CHARACTERS}"


def _overlap(one: Sequence[str], other: Sequence[str]) -> bool:
    """Whether a topic may match both filters, level by level (MQTT 5, section 4.7.1; "a/#" matches "a" as well)."""
    if ["#"] in (one[:1], other[:1]):
        return True
    if not one or not other:
        return one == other
    return (one[0] == other[0] or "+" in (one[0], other[0])) and _overlap(one[1:], other[1:])


def _notify(notify: Node) -> Iterator[str]:
    name = notify["url_env"]
    if name is not None and not is_variable_name(name):
        yield (
            f"{notify.path}.url_env: want the name of an environment variable, as COOLDEPTH_PHONE_URL; "
            "the address itself may be a secret and does not live in this file"
        )
    hours: Sequence[str] | None = notify["quiet_hours"]
    if hours is not None and (len(hours) != 2 or None in map(time_of_day, hours)):
        yield f'{notify.path}.quiet_hours = {json.dumps(hours)}: want two times HH:MM, from and to, as ["22:00", "06:30"]'
    if notify["summary_at"] is not None and time_of_day(notify["summary_at"]) is None:
        yield f'{notify.path}.summary_at = {json.dumps(notify["summary_at"])}: want a time HH:MM, as "07:00"'
    if notify["summary_only"] and "summary_at" in notify.missing:
        yield f"{notify.path}.summary_only: without summary_at there is no summary, so nothing would come; set it too"


def _weather(weather: Node) -> Iterator[str]:
    if (weather["source"] == "file") != (weather["file"] is not None):
        yield f'{weather.path}: source "file" wants the key file, and no other source does; give both or neither'
    if weather["url"] is not None and not _is_server(weather["url"]):
        yield (
            f"{weather.path}.url: want the address of a server alone, as https://weather.example.org; "
            "a key belongs in the environment, as COOLDEPTH_WEATHER_KEY"
        )


def _is_server(url: str) -> bool:
    try:
        parts = urlsplit(url)
        port = parts.port  # a port that is no number raises here
    except ValueError:
        return False
    plain = not (parts.query or parts.fragment or "@" in parts.netloc or port == 0)
    return parts.scheme in ("http", "https") and bool(parts.hostname) and plain


def _twice(nodes: Sequence[Node], name: str) -> Iterator[str]:
    counts = Counter(node[name] for node in nodes if node[name] is not None)
    for value, count in counts.items():
        if count > 1:
            where = ", ".join(node.path for node in nodes if node[name] == value)
            yield f'{where}: {name} "{value}" stands {count} times; each needs its own'


def _bed(bed: Node) -> Iterator[str]:
    for probe in bed.children["probe"]:
        if probe["quantity"] in _IN_SOIL and "depth_cm" in probe.missing:
            yield f"{probe.path}.depth_cm: missing; a probe of {probe['quantity']} needs its depth below the soil surface [cm]"
    full, wilting = field_capacity(bed), wilting_point(bed)
    if any(probe["quantity"] == Quantity.SOIL_MOISTURE for probe in bed.children["probe"]):
        if (full is None or wilting is None) and "soil" in bed.missing:
            yield (
                f"{bed.path}.soil: missing; a bed with a moisture probe needs a texture, or field_capacity and wilting_point; "
                f"textures are {', '.join(TEXTURES)}"
            )
        if "area_m2" in bed.missing:
            yield f"{bed.path}.area_m2: missing; a bed with a moisture probe needs it, the litres of a watering come of it"
    if full is not None and wilting is not None and full <= wilting:
        yield f"{bed.path}: field_capacity {full:g} must be above wilting_point {wilting:g} [m³/m³]"
