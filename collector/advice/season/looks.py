"""The journal as the crop's functions read it: which entries are about a planting, and what a count showed. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from zoneinfo import ZoneInfo

from collector.advice.season.record import day_of
from collector.crop.observed import Look, Stage, refuse_impossible
from collector.journal import Deed, Entry

# What the grower did says how far the crop is.
_DONE_STAGES = {Deed.LIFTED: Stage.LIFTED, Deed.CURED: Stage.CURED}
_STAGES = {stage.value: stage for stage in Stage}


def about(entries: Iterable[Entry], variety: str) -> tuple[Entry, ...]:
    """The entries about one variety of a bed, or about all of the bed."""
    return tuple(entry for entry in entries if entry.planting in (None, variety))


def newest(entries: Iterable[Entry], *deeds: Deed) -> Entry | None:
    """The newest entry of these deeds; None where there is none."""
    return max((entry for entry in entries if entry.deed in deeds), key=lambda entry: entry.at_ms, default=None)


def day_of_newest(entries: Iterable[Entry], timezone: ZoneInfo, *deeds: Deed) -> dt.date | None:
    """The date of the newest entry of these deeds; None where there is none."""
    found = newest(entries, *deeds)
    return None if found is None else day_of(found.at_ms, timezone)


def looks_of(entries: Sequence[Entry], planted: dt.date, today: dt.date, timezone: ZoneInfo) -> tuple[Look, ...]:
    """What was seen of a planting, oldest first.

    What cannot be (kept though it was asked about) tells nothing here, and so does what is dated before the planting or
    after today.
    """
    looks = (_look(entry, timezone) for entry in entries)
    return tuple(look for look in looks if look is not None and planted <= look.day <= today and _possible(look))


def _look(entry: Entry, timezone: ZoneInfo) -> Look | None:
    day = day_of(entry.at_ms, timezone)
    if entry.deed in _DONE_STAGES:
        return Look(day, stage=_DONE_STAGES[entry.deed])
    if entry.deed is not Deed.COUNTED:
        return None
    told = entry.amounts
    return Look(
        day,
        stage=_STAGES.get(entry.what or ""),
        leaves=_whole(told.get("leaves")),
        browned=_whole(told.get("browned")),
        bulb_to_neck=told.get("bulb_to_neck"),
        stem_thickens=_yes(told.get("stem_thickens")),
        scape=_yes(told.get("scape")),
    )


def _possible(look: Look) -> bool:
    try:
        refuse_impossible(look)
    except ValueError:
        return False
    return True


def _whole(number: float | None) -> int | None:
    return None if number is None else round(number)


def _yes(number: float | None) -> bool | None:
    return None if number is None else number >= 0.5
