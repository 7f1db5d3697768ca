"""A bed with what was laid on it since its garden file was written, by the journal. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from zoneinfo import ZoneInfo

from collector.advice.season.built import begins
from collector.advice.season.record import day_of, start_of
from collector.journal import Deed, Entry
from collector.model import Bed, Cover

# A cover of the garden file that was laid within so many days of an entry, of the same material, is the one of that entry.
SAME_COVER_D = 21


def covered(bed: Bed, entries: Iterable[Entry], timezone: ZoneInfo, now_ms: int) -> Bed:
    """The bed with the covers of its journal on top of those of the garden file, in the order in which they were laid.

    Those of this season count: what lay on last year's crop went with it. An entry without a material or a thickness tells
    too little to be drawn or worked with. One that the garden file has too is there once: of the same material, and laid at
    about that time or on a day that the file does not tell.

    Args:
        bed: the bed as the garden file has it.
        entries: of the journal, about any bed, none taken back.
        timezone: the garden's.
        now_ms: the moment; what is written of later does not lie yet [ms since 1970-01-01 UTC].
    """
    first = begins(bed)
    from_ms = 0 if first is None else start_of(first, timezone)
    own = [one for one in entries if one.bed_id == bed.id and one.deed is Deed.COVERED and from_ms <= one.at_ms <= now_ms]
    laid = [
        Cover(one.what.strip().lower(), one.amounts["thickness_m"], day_of(one.at_ms, timezone))
        for one in sorted(own, key=lambda one: one.at_ms)
        if one.what and one.amounts.get("thickness_m", 0.0) > 0.0
    ]
    new = [one for one in laid if not any(_same(one, filed) for filed in bed.covers)]
    return replace(bed, covers=(*bed.covers, *new)) if new else bed


def _same(told: Cover, filed: Cover) -> bool:
    if told.material != filed.material.strip().lower():
        return False
    return filed.since is None or (told.since is not None and abs((told.since - filed.since).days) <= SAME_COVER_D)
