"""The DS18B20 data sheet (Maxim Integrated), table 1, against the range and trap checks.

The table gives the register and the temperature it stands for; +85 °C, 0550h, is also the power-on reset value.
"""

import pytest

from collector import checks
from collector.model import Flag, Probe
from collector.units import Quantity

SOIL = Probe("t12", "terrace", Quantity.SOIL_TEMPERATURE, "stake", 0.12)
NOW_MS = 1_776_067_200_000

# register, temperature [°C], what is odd about it as a first word from soil
TABLE_1 = [
    (0x07D0, 125.0, Flag.OUT_OF_RANGE),
    (0x0550, 85.0, Flag.OUT_OF_RANGE | Flag.RESET_VALUE),
    (0x0191, 25.0625, Flag.NONE),
    (0x00A2, 10.125, Flag.NONE),
    (0x0008, 0.5, Flag.NONE),
    (0x0000, 0.0, Flag.NONE),
    (0xFFF8, -0.5, Flag.NONE),
    (0xFF5E, -10.125, Flag.NONE),
    (0xFE6F, -25.0625, Flag.NONE),
    (0xFC90, -55.0, Flag.OUT_OF_RANGE),
]


@pytest.mark.parametrize(("register", "printed_c", "flags"), TABLE_1)
def test_each_temperature_of_table_1_is_flagged_as_soil_would_have_it(register, printed_c, flags):
    value_c = (register - 0x10000 if register & 0x8000 else register) / 16
    assert value_c == printed_c
    assert checks.check(None, SOIL, NOW_MS, value_c, NOW_MS)[1] == flags


def test_the_reset_value_is_known_even_where_it_came_as_kelvin():
    assert checks.check(None, SOIL, NOW_MS, 358.15 - 273.15, NOW_MS)[1] & Flag.RESET_VALUE
