"""Whether the soil is cool enough to plant, by days measured and foreseen."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from collector.calls import Evidence
from collector.crop.limits import Limit, inside


@dataclass(frozen=True, slots=True)
class PlantingLimits:
    """The warmest soil to plant into, and for how many days in a row it must be no warmer."""

    soil_c: Limit
    run_d: Limit


USUAL = PlantingLimits(
    # In a warm climate autumn soil may not come down to it for weeks; a page of Texas A&M lets garlic be planted below
    # 29 °C at 5 cm. No primary source was found for either: the grower sets it.
    soil_c=Limit(10.0, "°C", Evidence.WEAK, "growers' pages: 10 °C at 10 cm at nine in the morning"),
    run_d=Limit(3.0, "d", Evidence.COMMON_PRACTICE, "common practice, no source"),
)


def first_cool_day(first_day: dt.date, soil_c: Sequence[float], limits: PlantingLimits = USUAL) -> dt.date | None:
    """First date from which the soil is cool enough for days in a row [°C against the limit]; None if not within them.

    A day that is not known breaks the row: it is not taken for cool.

    Args:
        first_day: date of the first value.
        soil_c: temperature at planting depth of each day, measured or foreseen, NaN is not known [°C].
        limits: how cool, and for how long.

    Raises:
        ValueError: a run of less than one day.

    Source: by definition; the temperature from the limits.
    """
    inside("run_d", limits.run_d.value, 1.0, 366.0, "d")
    in_row = 0
    for day, value_c in enumerate(soil_c):
        in_row = in_row + 1 if math.isfinite(value_c) and value_c <= limits.soil_c.value else 0
        if in_row >= limits.run_d.value:
            return first_day + dt.timedelta(days=day - in_row + 1)
    return None
