"""One store file is for one collector: two would each think that they know what it holds."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from collector.errors import StoreError


@contextmanager
def sole_collector(path: Path) -> Iterator[None]:
    """Hold the store at `path` for the collector in this process; whatever ends the process lets go of it.

    Raises StoreError where another collector holds it.
    """
    # A file of its own: SQLite loses its own locks where the process closes any other handle to its file.
    beside = path.with_name(f"{path.name}.collector")
    try:
        held = os.open(beside, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as error:
        raise StoreError(f"store {path}: {beside} cannot be written ({error.strerror}); let this user write there") from error
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError:
        raise StoreError(
            f"store {path}: another collector uses this file, and a file is for one. End that one, or give each its own "
            'store.path; for a garden with several collectors, all put readings into InfluxDB with kind = "influx"'
        ) from None
    finally:
        os.close(held)
