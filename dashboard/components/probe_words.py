"""Probes and what they say, in words. Pure."""

from __future__ import annotations

from collector.model import Probe
from collector.units import Quantity, UnitSystem
from dashboard import theme

_WHAT = {
    Quantity.SOIL_TEMPERATURE: "soil temperature",
    Quantity.SOIL_MOISTURE: "soil moisture",
    Quantity.AIR_TEMPERATURE: "air temperature",
    Quantity.RELATIVE_HUMIDITY: "humidity of the air",
    Quantity.SOLAR_IRRADIANCE: "sunshine",
    Quantity.WIND_SPEED: "wind",
    Quantity.RAIN: "rain",
    Quantity.BATTERY: "battery",
}


def what_words(quantity: Quantity) -> str:
    """ "soil temperature": what a probe measures."""
    return _WHAT[quantity]


def name_of(probe: Probe, units: UnitSystem) -> str:
    """ "12 cm down, soil temperature": where a probe is and what it measures."""
    words = what_words(probe.quantity)
    return words.capitalize() if probe.depth_m is None else f"{theme.depth(probe.depth_m, units)} down, {words}"


def value(quantity: Quantity, number: float, units: UnitSystem) -> str:
    """A reading with its unit, to the decimals that such a sensor can keep."""
    match quantity:
        case Quantity.SOIL_TEMPERATURE | Quantity.AIR_TEMPERATURE:
            return theme.temperature(number, units)
        case Quantity.SOIL_MOISTURE:
            return f"{number * 100:.0f} % by volume"
        case Quantity.RELATIVE_HUMIDITY:
            return f"{number:.0f} %"
        case Quantity.SOLAR_IRRADIANCE:
            return f"{number:.0f} W/m²"
        case Quantity.WIND_SPEED:
            return theme.wind(number, units)
        case Quantity.RAIN:
            return theme.water_depth(number, units)
        case Quantity.BATTERY:
            return f"{number:.2f} V"
