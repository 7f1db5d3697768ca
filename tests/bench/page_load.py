"""Twenty pages left open: how soon their updates are answered, and whether the server grows.

python -m tests.bench.page_load FOLDER [MINUTES]

FOLDER is that of `store_speed`, which makes the season. Half of the pages are Today, half a bed's; each asks as often as pages
do. A reading a minute of every probe goes on coming in, as it would.
"""

from __future__ import annotations

import statistics
import sys
import time
from contextlib import closing
from pathlib import Path

from playwright.sync_api import Request, sync_playwright

from collector.model import Batch, Reading
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from tests.bench.page_speed import PHONE, garden_file, served
from tests.bench.store_speed import END_MS, MINUTE_MS, garden
from tests.real.conftest import QUIET_FLAGS

PAGES, MINUTES = 20, 10.0


def resident_mb(pid: int) -> float:
    """What a process holds in memory now [MB]."""
    status = Path(f"/proc/{pid}/status").read_text()
    return next(int(line.split()[1]) / 1024 for line in status.splitlines() if line.startswith("VmRSS"))


def main(folder: Path, minutes: float) -> None:
    """Write a table of it to standard output."""
    took_ms: list[float] = []

    def finished(request: Request) -> None:
        if "_dash-update-component" in request.url:
            took_ms.append(request.timing["responseEnd"] - request.timing["requestStart"])

    whole = garden(folder)
    with closing(SqliteReadings(whole.store.path)) as readings:
        at_ms = max((one.measured_ms for one in readings.latest().values()), default=END_MS)
    store = SqliteReadingStore(whole.store.path)
    with sync_playwright() as playwright, served(garden_file(folder)) as (base, pid):
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET_FLAGS)
        context = browser.new_context(viewport=PHONE)
        for number in range(PAGES):
            page = context.new_page()
            page.goto(base + ("/" if number % 2 else f"/bed/bed{number // 2 % len(whole.beds)}"))
            page.wait_for_selector("main h1")
            page.on("requestfinished", finished)
        page.wait_for_timeout(20_000)  # what was to be learned is learned
        took_ms.clear()
        began_s, held_mb = time.monotonic(), [resident_mb(pid)]
        while time.monotonic() - began_s < 60.0 * minutes:
            at_ms += MINUTE_MS
            store.commit(Batch(readings=tuple(Reading(one.id, at_ms, 0.2, 0.2, at_ms) for one in whole.probes)))
            page.wait_for_timeout(min(60_000.0, 60_000.0 * minutes))
            held_mb.append(resident_mb(pid))
        browser.close()
    store.close()
    p95_ms = statistics.quantiles(took_ms, n=20)[18]
    print(f"{PAGES} pages for {minutes:g} minutes: {len(took_ms)} updates, median {statistics.median(took_ms):.0f} ms")  # noqa: T201
    print(f"95th percentile of an update {p95_ms:44.0f} ms   under 300 ms")  # noqa: T201
    print(f"memory of the server, minute by minute: {', '.join(f'{one:.0f}' for one in held_mb)} MB   flat")  # noqa: T201


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else MINUTES)
