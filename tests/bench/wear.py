"""How much is written to a card for a reading: `python -m tests.bench.wear [FOLDER]`, a folder on a real disk.

Linux counts what a process has sent towards a disk (proc(5), io: write_bytes), in whole pages; a card itself may write more
than that, since it erases in larger blocks, and nothing here can see it. Each commit is synced, as the collector does.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from collector.model import Batch, Reading
from collector.stores.sqlite import SqliteReadingStore

MINUTE_MS, BEGIN_MS = 60_000, 1_790_000_000_000
# A stake of five probes that speaks every ten minutes; the same every minute; forty probes that speak together each minute.
CASES = (
    ("one stake of five, each ten minutes", 5, 10),
    ("one stake of five, each minute", 5, 1),
    ("forty probes, each minute", 40, 1),
)
COMMITS = 3000


def written() -> int:
    """Bytes that this process has sent towards a disk."""
    return int(next(line.split()[1] for line in Path("/proc/self/io").read_text().splitlines() if line.startswith("write_bytes")))


def main(folder: Path) -> None:
    """Write a table of it to standard output."""
    for name, probes, minutes in CASES:
        with tempfile.TemporaryDirectory(dir=folder) as place:
            store = SqliteReadingStore(Path(place) / "garden.db")
            before = written()
            for number in range(COMMITS):
                at_ms = BEGIN_MS + number * minutes * MINUTE_MS
                some = [Reading(f"p{one}", at_ms, 15 + (number + one) % 64 / 16, 15.0, at_ms) for one in range(probes)]
                store.commit(Batch(readings=tuple(some)))
            store.close()
            each = (written() - before) / (COMMITS * probes)
        a_year_gb = each * probes * 365 * 24 * 60 / minutes / 1e9
        print(f"{name:38} {each:7.0f} bytes a reading   {a_year_gb:6.1f} GB a year")  # noqa: T201


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path())
