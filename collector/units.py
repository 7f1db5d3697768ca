"""Quantities, their one unit inside, and the units allowed at the doors.

Inside there is one unit per quantity. `decode` converts what a wire says into it,
`advice.wording` and `dashboard.theme` convert it into what the grower reads. A unit is
never guessed from the size of a value.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Quantity(StrEnum):
    """What a probe measures; the words of the garden file."""

    __hash__ = str.__hash__  # that of an enumeration is Python, and each reading looks several things up by its quantity

    SOIL_TEMPERATURE = "soil_temperature"
    SOIL_MOISTURE = "soil_moisture"
    AIR_TEMPERATURE = "air_temperature"
    RELATIVE_HUMIDITY = "relative_humidity"
    SOLAR_IRRADIANCE = "solar_irradiance"
    WIND_SPEED = "wind_speed"
    RAIN = "rain"
    BATTERY = "battery"


@dataclass(frozen=True, slots=True)
class UnitRule:
    """The unit inside, what a wire may say instead (factor, offset), and two ranges.

    `accepts` maps a SenML unit to (factor, offset): inside = factor * value + offset.
    Outside `possible` a number is no such quantity at all and is refused; outside
    `plausible` it is kept and flagged.
    """

    unit: str
    accepts: dict[str, tuple[float, float]]
    possible: tuple[float, float]
    plausible: tuple[float, float]


# SenML units: RFC 8428, section 12.1; secondary units (mm, mV, km/h, /100): RFC 8798.
# "%" is the same as "/" there, a ratio and not a percentage (RFC 8428, section 12.1, note).
# Plausible ranges: common practice, no source; the thermometer's is its datasheet range
# (DS18B20 data sheet, p. 1: -55 to +125 °C) narrowed to what soil and air outdoors can be.
_CELSIUS = {"Cel": (1.0, 0.0), "K": (1.0, -273.15)}

UNIT_RULES: dict[Quantity, UnitRule] = {
    Quantity.SOIL_TEMPERATURE: UnitRule("Cel", _CELSIUS, (-273.15, 1000.0), (-30.0, 60.0)),
    Quantity.AIR_TEMPERATURE: UnitRule("Cel", _CELSIUS, (-273.15, 1000.0), (-50.0, 60.0)),
    Quantity.SOIL_MOISTURE: UnitRule("/", {"/": (1.0, 0.0), "%": (1.0, 0.0), "/100": (0.01, 0.0)}, (-0.5, 1.5), (0.0, 0.7)),
    Quantity.RELATIVE_HUMIDITY: UnitRule("%RH", {"%RH": (1.0, 0.0)}, (-20.0, 150.0), (0.0, 105.0)),
    Quantity.SOLAR_IRRADIANCE: UnitRule("W/m2", {"W/m2": (1.0, 0.0)}, (-100.0, 5000.0), (-15.0, 1500.0)),
    Quantity.WIND_SPEED: UnitRule("m/s", {"m/s": (1.0, 0.0), "km/h": (1 / 3.6, 0.0)}, (-1.0, 200.0), (0.0, 75.0)),
    Quantity.RAIN: UnitRule("mm", {"mm": (1.0, 0.0), "m": (1000.0, 0.0)}, (-1.0, 2000.0), (0.0, 200.0)),
    Quantity.BATTERY: UnitRule("V", {"V": (1.0, 0.0), "mV": (0.001, 0.0)}, (-1.0, 1000.0), (0.0, 60.0)),
}


class UnitSystem(StrEnum):
    """How values are shown to the grower."""

    METRIC = "metric"
    US = "us"


def fahrenheit(celsius: float) -> float:
    """Temperature on the Fahrenheit scale [°F] of `celsius` [°C]."""
    return celsius * 1.8 + 32.0


def inches(metres: float) -> float:
    """Length [in] of `metres` [m]; 1 in = 0.0254 m exactly."""
    return metres / 0.0254


def miles_per_hour(metres_per_second: float) -> float:
    """Speed [mi/h] of `metres_per_second` [m/s]; 1 mi = 1609.344 m exactly."""
    return metres_per_second * 3600.0 / 1609.344


def us_gallons(litres: float) -> float:
    """Volume [US gal] of `litres` [L]; 1 US gal = 3.785411784 L exactly."""
    return litres / 3.785411784


def us_fluid_ounces(millilitres: float) -> float:
    """Volume [US fl oz] of `millilitres` [mL]; 1 US gal = 128 fl oz."""
    return us_gallons(millilitres / 1000.0) * 128.0


def ounces(grams: float) -> float:
    """Mass [oz] of `grams` [g]; 1 lb = 16 oz = 453.59237 g exactly."""
    return grams / 453.59237 * 16.0


def pounds_per_acre(grams_per_square_metre: float) -> float:
    """Mass by area [lb/acre] of `grams_per_square_metre` [g/m²]; 1 acre = 43,560 ft² exactly."""
    return ounces(grams_per_square_metre) / 16.0 / square_feet(1.0) * 43_560.0


def square_feet(square_metres: float) -> float:
    """Area [ft²] of `square_metres` [m²]; 1 ft = 0.3048 m exactly."""
    return square_metres / 0.3048**2
