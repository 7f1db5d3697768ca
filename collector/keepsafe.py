"""Backups of a garden and their way back, for the command line: where the store of a garden file is copied and put back."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from collector import garden_file
from collector.model import Garden
from collector.stores import backup


def back_up(garden: Garden, garden_path: Path, out: Path, made_utc: str, say: Callable[[str], None]) -> Mapping[str, Any]:
    """All that a garden has on disk, into a new file; answers what is in it."""
    return backup.back_up(garden_path, garden.store_path, out, made_utc, say)


def verify_backup(path: Path) -> Mapping[str, Any]:
    """What is in a backup; raises StoreError where it is not whole."""
    return backup.verify(path)


def restore_backup(
    path: Path, garden_path: Path, store: Path | None, *, overwrite: bool, say: Callable[[str], None]
) -> Mapping[str, Any]:
    """Put a backup back; the store goes where the garden file in it says, or where the one that is there does."""
    if store is None:
        text = backup.garden_text(path)
        store = garden_file.parse(text, f"{path}: {backup.GARDEN}", os.environ, garden_path.parent, secrets=False).store_path
    return backup.restore(path, garden_path, store, overwrite=overwrite, say=say)
