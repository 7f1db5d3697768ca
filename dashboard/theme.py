"""Inks, grounds, temperature colours, and how a value is written for the grower.

The only module of the dashboard that turns inside units into the grower's own. Pure.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from collector.units import (
    UnitSystem,
    fahrenheit,
    inches,
    miles_per_hour,
    ounces,
    pounds_per_acre,
    square_feet,
    us_gallons,
)

# ---------------------------------------------------------------- inks and grounds


@dataclass(frozen=True, slots=True)
class Tokens:
    """The two inks and two grounds of one mode, and the tints that charts need; CSS colours."""

    air: str
    earth: str
    ink: str
    ink2: str
    rule: str
    sun_tint: str
    water_fill: str


LIGHT = Tokens("#ffffff", "#f4f1ea", "#17120e", "#4b4239", "#a79d8f", "#fdf0cf", "#9ed8f5")
DARK = Tokens("#12100d", "#1d1915", "#f6f1e7", "#cfc6b8", "#6d6357", "#33270f", "#1a4f6c")

# Inside the picture the ground has its own colours, so its inks are the same by day and by night.
PEN, PALE, BULB, BULB_RIB, ROOT, WATER, PORE = "#17120e", "#fffdf6", "#fdf9f0", "#6b2f55", "#fbf6ea", "#9ed8f5", "#1a120d"

FONT_FAMILY = 'Overpass, "Segoe UI", Roboto, "Noto Sans", system-ui, sans-serif'
SIZE_SENTENCE_PX, SIZE_HEADING_PX, SIZE_BODY_PX, SIZE_NOTE_PX = 30, 22, 17, 14

# Of every chart: no tool bar, and nothing that could send a garden's data anywhere.
GRAPH_CONFIG: dict[str, Any] = {
    "displayModeBar": False,
    "displaylogo": False,
    "showSendToCloud": False,
    "scrollZoom": False,
    "doubleClick": False,
    "showTips": False,
    "responsive": True,
}


def tokens(mode: str) -> Tokens:
    """The tokens of `mode`, "light" or "dark"; anything else counts as light."""
    return DARK if mode == "dark" else LIGHT


# ---------------------------------------------------------------- temperature colours

# Distance from the bed's cool limit [K] and the colour there. Every cool colour is darker than
# every warm one, so that the side of the limit survives greyscale, glare and colour blindness.
_COOL_STOPS = ((-12.0, "#252252"), (-6.0, "#3c3469"), (-2.5, "#544579"), (0.0, "#6e5885"))
_WARM_STOPS = ((0.0, "#f2e1ab"), (2.0, "#f6c777"), (5.0, "#f69f41"), (9.0, "#ef752e"), (14.0, "#e4552e"))
SCALE_FROM_K, SCALE_TO_K = _COOL_STOPS[0][0], _WARM_STOPS[-1][0]

# Where no limit is set the same colours stand around this temperature, without the jump.
NO_LIMIT_CENTRE_C = 18.0
_BLEND_K = 1.0


def scale_centre_c(limit_c: float | None) -> float:
    """The temperature [°C] around which colours are laid: the bed's limit, or 18 °C where none is set."""
    return NO_LIMIT_CENTRE_C if limit_c is None else limit_c


def temperature_stops(limit_c: float | None) -> tuple[tuple[float, str], ...]:
    """Temperatures [°C] with their colours, rising; the limit stands twice, for it is an edge."""
    centre_c = scale_centre_c(limit_c)
    stops: tuple[tuple[float, str], ...] = _COOL_STOPS + _WARM_STOPS
    if limit_c is None:
        stops = tuple(stop for stop in stops if abs(stop[0]) >= _BLEND_K)
        below, above = (_blend(side, distance_k) for side, distance_k in ((_COOL_STOPS, -_BLEND_K), (_WARM_STOPS, _BLEND_K)))
        stops = tuple(sorted((*stops, (-_BLEND_K, below), (_BLEND_K, above))))
    return tuple((centre_c + distance_k, colour) for distance_k, colour in stops)


def temperature_colour(value_c: float, limit_c: float | None, *, warm_side: bool = False) -> str:
    """The colour of a temperature [°C]; exactly on the limit the cool one, or with `warm_side` the warm one."""
    distance_k = value_c - scale_centre_c(limit_c)
    if limit_c is None:
        return _blend(tuple((at_c - NO_LIMIT_CENTRE_C, colour) for at_c, colour in temperature_stops(None)), distance_k)
    warm = distance_k > 0 or (distance_k == 0 and warm_side)
    return _blend(_WARM_STOPS if warm else _COOL_STOPS, distance_k)


def plotly_colour_scale(limit_c: float | None) -> list[list[float | str]]:
    """The same colours as Plotly wants them, 0 at `scale_range_c(limit)[0]` and 1 at its end."""
    low_c, high_c = scale_range_c(limit_c)
    return [[(at_c - low_c) / (high_c - low_c), colour] for at_c, colour in temperature_stops(limit_c)]


def scale_range_c(limit_c: float | None) -> tuple[float, float]:
    """The coolest and the warmest temperature [°C] that still change colour: `zmin` and `zmax` of a heat map."""
    centre_c = scale_centre_c(limit_c)
    return centre_c + SCALE_FROM_K, centre_c + SCALE_TO_K


def _blend(stops: tuple[tuple[float, str], ...], at: float) -> str:
    if at <= stops[0][0]:
        return stops[0][1]
    for (low, low_colour), (high, high_colour) in pairwise(stops):
        if at <= high:
            share = (at - low) / (high - low)
            mixed = (round(a + share * (b - a)) for a, b in zip(_rgb(low_colour), _rgb(high_colour), strict=True))
            return "#" + "".join(f"{channel:02x}" for channel in mixed)
    return stops[-1][1]


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


# ---------------------------------------------------------------- values in the grower's units


def temperature(value_c: float, units: UnitSystem) -> str:
    """ "17.4 °C" or "63.3 °F": a temperature with its unit, to 0.1."""
    return f"{temperature_number(value_c, units):.1f} {temperature_unit(units)}"


def limit(value_c: float, units: UnitSystem) -> str:
    """ "18 °C": a temperature that the grower chose, without an empty decimal."""
    return f"{temperature_number(value_c, units):.1f}".removesuffix(".0") + f" {temperature_unit(units)}"


def temperature_number(value_c: float, units: UnitSystem) -> float:
    """The bare number of `value_c` [°C] in the grower's unit; NaN stays NaN."""
    return fahrenheit(value_c) if units is UnitSystem.US else value_c


def temperature_difference(difference_k: float, units: UnitSystem) -> str:
    """ "0.2" or "0.4": a difference of temperatures [K], to 0.1, in the degrees of the grower and without its unit."""
    return f"{difference_k * 1.8 if units is UnitSystem.US else difference_k:.1f}"


def temperature_unit(units: UnitSystem) -> str:
    """ "°C" or "°F"."""
    return "°F" if units is UnitSystem.US else "°C"


def depth(depth_m: float, units: UnitSystem) -> str:
    """ "12 cm", or to the half inch "4.5 in": a depth or thickness given in metres."""
    return f"{depth_number(depth_m, units):g} {depth_unit(units)}"


def depth_number(depth_m: float, units: UnitSystem) -> float:
    """The bare number of `depth_m` [m]: whole centimetres, or inches to the half; never minus zero."""
    if units is UnitSystem.US:
        return round(inches(depth_m) * 2) / 2 + 0.0
    return float(round(depth_m * 100)) + 0.0


def depth_unit(units: UnitSystem) -> str:
    """ "cm" or "in"."""
    return "in" if units is UnitSystem.US else "cm"


def volume(litres: float, units: UnitSystem) -> str:
    """ "68 litres" or "18 gallons" of `litres` [L], whole ones."""
    amount, unit = (us_gallons(litres), "gallon") if units is UnitSystem.US else (litres, "litre")
    return f"{amount:.0f} {unit}" + ("" if f"{amount:.0f}" == "1" else "s")


def water_depth(depth_mm: float, units: UnitSystem) -> str:
    """ "9.8 mm" or "0.39 in": water as a depth over the bed."""
    return f"{inches(depth_mm / 1000):.2f} in" if units is UnitSystem.US else f"{depth_mm:.1f} mm"


def wind(speed_m_s: float, units: UnitSystem) -> str:
    """ "3.2 m/s" or "7 mph"."""
    return f"{miles_per_hour(speed_m_s):.0f} mph" if units is UnitSystem.US else f"{speed_m_s:.1f} m/s"


def area(area_m2: float, units: UnitSystem) -> str:
    """ "7.2 m²" or "78 ft²"."""
    return f"{square_feet(area_m2):.0f} ft²" if units is UnitSystem.US else f"{area_m2:g} m²"


@dataclass(frozen=True, slots=True)
class AmountUnit:
    """How an amount of the journal is written: the unit's sign, and how much of the inside unit one of it is."""

    label: str
    factor: float = 1.0


def amount_unit(name: str, units: UnitSystem) -> AmountUnit:
    """The unit in which an amount of the journal, by its name in `AMOUNTS`, is filled in."""
    us = units is UnitSystem.US
    return {
        "litres": AmountUnit("gallons", 1.0 / us_gallons(1.0)) if us else AmountUnit("litres"),
        "shade_pct": AmountUnit("%"),
        "thickness_m": AmountUnit("in", 1.0 / inches(1.0)) if us else AmountUnit("cm", 0.01),
        "n_g_m2": AmountUnit("lb/acre", 1.0 / pounds_per_acre(1.0)) if us else AmountUnit("g/m²"),
        "product_g": AmountUnit("oz", 1.0 / ounces(1.0)) if us else AmountUnit("g"),
        "yield_kg": AmountUnit("lb", 16.0 / ounces(1000.0)) if us else AmountUnit("kg"),
        "diameter_mm": AmountUnit("in", 1000.0 / inches(1.0)) if us else AmountUnit("mm"),
    }.get(name, AmountUnit(""))


# ---------------------------------------------------------------- the garden's own time

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def local_time(time_ms: int, timezone: str) -> dt.datetime:
    """The moment `time_ms` [ms since 1970 UTC] as an aware local time of the garden."""
    return dt.datetime.fromtimestamp(time_ms / 1000, ZoneInfo(timezone))


def clock_words(time_ms: int, timezone: str, units: UnitSystem) -> str:
    """ "17:40", or "5:40 pm" where units are US."""
    local = local_time(time_ms, timezone)
    if units is UnitSystem.US:
        return f"{local.hour % 12 or 12}:{local.minute:02d} {'am' if local.hour < 12 else 'pm'}"
    return f"{local.hour}:{local.minute:02d}"


def day_words(time_ms: int, timezone: str) -> str:
    """ "Tuesday 13 April"."""
    local = local_time(time_ms, timezone)
    return f"{_DAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]}"


def when_words(time_ms: int, now_ms: int, timezone: str, units: UnitSystem) -> str:
    """When something was or will be, as short as is clear: "17:38", "yesterday 19:05", "Sunday 19:05", "13 April 19:05"."""
    then, now = local_time(time_ms, timezone), local_time(now_ms, timezone)
    days_ago = (now.date() - then.date()).days
    clock = clock_words(time_ms, timezone, units)
    if days_ago == 0:
        return clock
    if days_ago == 1:
        return f"yesterday {clock}"
    if days_ago == -1:
        return f"tomorrow {clock}"
    if 0 < abs(days_ago) < 7:
        return f"{_DAYS[then.weekday()]} {clock}"
    day = f"{then.day} {_MONTHS[then.month - 1]}"
    return f"{day} {clock}" if abs(days_ago) < 300 else f"{day} {then.year}"
