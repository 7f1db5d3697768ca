"""Numbers and times as the grower reads them: the garden's units, its time zone, its clock. Pure.

No decimals that a probe cannot keep: 0.1 °C, whole centimetres, whole litres.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from collector.model import Garden
from collector.units import UnitSystem, fahrenheit, inches, ounces, pounds_per_acre, us_fluid_ounces, us_gallons

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_M2_A_FT2 = 0.3048**2
_PARTS_OF_DAY = ((5, "night"), (11, "morning"), (14, "noon"), (18, "afternoon"), (22, "evening"), (24, "night"))
COUNTS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve")


@dataclass(frozen=True, slots=True)
class Voice:
    """How a garden wants to be spoken to."""

    units: UnitSystem
    timezone: ZoneInfo

    @property
    def _us(self) -> bool:
        return self.units is UnitSystem.US

    def temperature(self, celsius: float) -> str:
        """A temperature given in °C, to a tenth: "17.4 °C"; a whole one without its zero: "18 °C"."""
        return f"{_tenths(fahrenheit(celsius))} °F" if self._us else f"{_tenths(celsius)} °C"

    def warmer_by(self, kelvin: float) -> str:
        """A difference of temperatures given in K: "0.6 °C"."""
        return f"{_tenths(kelvin * 1.8)} °F" if self._us else f"{_tenths(kelvin)} °C"

    def degree_days(self, kelvin_days: float) -> str:
        """A heat sum given in K d: "912 degree days", of Fahrenheit with US units."""
        return f"{kelvin_days * 1.8:.0f} °F degree days" if self._us else f"{kelvin_days:.0f} degree days"

    def depth(self, metres: float) -> str:
        """A depth given in metres: "12 cm", "4.5 in" (to half an inch)."""
        return f"{self.depth_number(metres)} {'in' if self._us else 'cm'}"

    def depths(self, metres: list[float]) -> str:
        """Several depths given in metres: "5, 12 and 20 cm"."""
        *most, last = [self.depth_number(depth_m) for depth_m in metres]
        return f"{', '.join(most)}{' and ' if most else ''}{last} {'in' if self._us else 'cm'}"

    def depth_number(self, metres: float) -> str:
        """A depth given in metres, without its unit."""
        return _tenths(round(2 * inches(metres)) / 2) if self._us else f"{100 * metres:.0f}"

    def water(self, litres: float) -> str:
        """A volume given in litres, to whole ones: "68 litres", "18 gallons"."""
        amount = round(us_gallons(litres) if self._us else litres)
        return f"{amount} {'gallon' if self._us else 'litre'}{'' if amount == 1 else 's'}"

    def litres(self, litres: float) -> str:
        """A volume to mix in, given in litres, to a tenth: "10 L", "2.6 gal"."""
        return f"{_tenths(us_gallons(litres))} gal" if self._us else f"{_tenths(litres)} L"

    def volume(self, millilitres: float) -> str:
        """A small volume given in millilitres: "56 mL", "1.9 fl oz"."""
        return f"{_tenths(us_fluid_ounces(millilitres))} fl oz" if self._us else f"{millilitres:.0f} mL"

    def mass(self, grams: float) -> str:
        """A mass given in grams: "67 g", "1.2 kg", "2.4 oz", "1.3 lb"."""
        if self._us:
            weight_oz = ounces(grams)
            return f"{_tenths(weight_oz)} oz" if weight_oz < 16.0 else f"{_tenths(weight_oz / 16.0)} lb"
        return f"{_tenths(grams) if grams < 10.0 else f'{grams:.0f}'} g" if grams < 1000.0 else f"{_tenths(grams / 1000.0)} kg"

    def width(self, millimetres: float) -> str:
        """How wide a bulb is, given in millimetres: "55 mm", "2.2 in"."""
        return f"{_tenths(inches(millimetres / 1000.0))} in" if self._us else f"{millimetres:.0f} mm"

    def nitrogen(self, g_m2: float) -> str:
        """What an area is given, in g/m²: "2 g/m²", "18 lb/acre"."""
        return f"{pounds_per_acre(g_m2):.0f} lb/acre" if self._us else f"{_tenths(g_m2)} g/m²"

    def water_height(self, millimetres: float) -> str:
        """Water on an area, given in millimetres: "12 litres a square metre", "0.5 in"."""
        return f"{_tenths(inches(millimetres / 1000.0))} in" if self._us else f"{millimetres:.0f} litres a square metre"

    def yield_by_area(self, kg_m2: float) -> str:
        """What an area yielded, given in kg/m²: "1.25 kg/m²", "0.26 lb/ft²"."""
        return f"{ounces(1000.0 * kg_m2) / 16.0 * _M2_A_FT2:.2f} lb/ft²" if self._us else f"{kg_m2:.2f} kg/m²"

    def hose(self, minutes: float) -> str:
        """A time at the hose: "Six minutes of hose", "One minute of hose"."""
        whole = max(1, round(minutes))
        count = COUNTS[whole] if whole < len(COUNTS) else str(whole)
        return f"{count} minute{'' if whole == 1 else 's'} of hose"

    def clock(self, at_ms: int) -> str:
        """The time of day: "6:05", "18:52"; with US units "6:52 pm"."""
        local = self.local(at_ms)
        if not self._us:
            return f"{local.hour}:{local.minute:02}"
        return f"{(local.hour - 1) % 12 + 1}:{local.minute:02} {'am' if local.hour < 12 else 'pm'}"

    def day(self, at_ms: int, now_ms: int) -> str:
        """The day: "today", "yesterday", "tomorrow", within a week "Monday", else "13 April" or, with US units, "April 13"."""
        return self.date(self.local(at_ms).date(), self.local(now_ms).date())

    def date(self, day: dt.date, today: dt.date) -> str:
        """A date as `day` tells it."""
        days_ago = (today - day).days
        if -2 < days_ago < 2:
            return ("tomorrow", "today", "yesterday")[days_ago + 1]
        if -7 < days_ago < 7:
            return _WEEKDAYS[day.weekday()]
        month = _MONTHS[day.month - 1]
        return f"{month} {day.day}" if self._us else f"{day.day} {month}"

    def full_date(self, day: dt.date) -> str:
        """A date with its year: "13 April 2026", with US units "April 13, 2026"."""
        month = _MONTHS[day.month - 1]
        return f"{month} {day.day}, {day.year}" if self._us else f"{day.day} {month} {day.year}"

    def when(self, at_ms: int, now_ms: int) -> str:
        """Day and time, the day left out if it is today: "18:52", "yesterday 19:05", "Monday 19:05"."""
        day = self.day(at_ms, now_ms)
        return self.clock(at_ms) if day == "today" else f"{day} {self.clock(at_ms)}"

    def by_part_of_day(self, at_ms: int, now_ms: int) -> str:
        """When something to come would be, no finer than can be told: "this evening", "tomorrow at noon", "Saturday morning"."""
        hour, day = self.local(at_ms).hour, self.day(at_ms, now_ms)
        part = next(part for end, part in _PARTS_OF_DAY if hour < end)
        if part == "night":  # it belongs to the evening before
            day = self.day(at_ms - 5 * 3_600_000, now_ms) if hour < 5 else day
            return "tonight" if day in ("today", "yesterday") else f"{day} night"
        if day == "today":
            return "at noon" if part == "noon" else f"this {part}"
        return f"{day} at noon" if part == "noon" else f"{day} {part}"

    def local(self, at_ms: int) -> dt.datetime:
        """A moment [ms since 1970-01-01 UTC] in the garden's time zone."""
        return dt.datetime.fromtimestamp(at_ms / 1000, tz=self.timezone)


def voice_of(garden: Garden) -> Voice:
    """The voice that the garden file asks for."""
    return Voice(garden.units, ZoneInfo(garden.timezone))


def _tenths(number: float) -> str:
    text = f"{number:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text
