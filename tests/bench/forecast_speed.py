"""How long a forecast takes on one core: a week ahead with its band, as it is and under five other weathers, for 50 beds.

OMP_NUM_THREADS=1 python -m tests.bench.forecast_speed
"""

from __future__ import annotations

import time

from collector.soil.forecast.inputs import HOUR_MS, SUN_W_M2, Weather
from collector.soil.forecast.model import LONGEST_H, fit, forecast
from tests.collector.soil.forecast import made

BEDS, SHADES, DAYS = 50, (0.0, 0.2, 0.3, 0.4, 0.5, 0.6), 100


def main() -> None:
    """Write both times to standard output."""
    air = made.weather(DAYS + 7)
    record = made.record(air, 0.12)
    now_ms = made.START_MS + DAYS * 24 * HOUR_MS
    began = time.process_time()
    fitted = fit([record], air, made.SITE, 0.12, now_ms)
    learnt_s = time.process_time() - began
    coming = [Weather(air.time_ms, {**air.columns, SUN_W_M2: (1.0 - shade) * air.columns[SUN_W_M2]}) for shade in SHADES]
    began = time.process_time()
    for _ in range(BEDS):
        for weather in coming:
            forecast(fitted, weather, LONGEST_H)
    asked_s = time.process_time() - began
    print(f"learning one depth of one bed from 90 days: {learnt_s:.2f} s")  # noqa: T201
    print(f"{BEDS} beds, {len(SHADES)} weeks ahead each: {asked_s:.2f} s")  # noqa: T201


if __name__ == "__main__":
    main()
