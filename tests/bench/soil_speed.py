"""How fast the soil is worked out, on one core: `make bench`.

OMP_NUM_THREADS=1 python -m tests.bench.soil_speed
"""

from __future__ import annotations

import math

from tests.bench import forecast_speed, season_speed


def main() -> None:
    """Write both tables to standard output; seconds are those of this process, medians of several turns."""
    lines = [
        f"A season of heat flow: {season_speed.SEASON_D} days, steps of {season_speed.STEP_S / 60:g} min, "
        f"{season_speed.NODES} cells, each way as coarse as still is within {season_speed.WANTED_K:g} K of the truth everywhere",
        f"{'':36}{'seconds':>9}{'times ours':>12}{'error, K':>11}{'tolerance, K':>14}",
    ]
    for one in season_speed.compared():
        if math.isinf(one.seconds):
            lines.append(f"{one.name:36}{'too slow':>9}{'':12}{one.error_k:11.2g}")
        else:
            tolerance = "" if one.tolerance_k is None else f"{one.tolerance_k:g}"
            lines.append(f"{one.name:36}{one.seconds:9.3f}{one.times_ours:12.0f}{one.error_k:11.2g}{tolerance:>14}")
    lines.append(f"SciPy followed {season_speed.STRETCH_D} days; its seconds are scaled to the season.")
    took = forecast_speed.measured()
    lines += [
        "",
        f"A week ahead with its band and five what-ifs, {forecast_speed.BEDS} beds: {took.looking_s:.2f} s; "
        f"what they learned beforehand took {took.learning_s:.2f} s each",
    ]
    print("\n".join(lines))  # noqa: T201


if __name__ == "__main__":
    main()
