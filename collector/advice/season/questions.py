"""What is odd about an entry of the journal, as questions; and what cannot be, as a refusal. Pure."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from collector.advice.season.looks import about, newest
from collector.advice.season.record import day_of
from collector.advice.voice import Voice
from collector.crop.feed_plan import FeedLimits
from collector.crop.observed import Stage
from collector.errors import QuestionError
from collector.journal import AMOUNTS, Deed, Entry
from collector.model import Bed, Garden

MINUTE_MS, DAY_MS = 60_000, 86_400_000
# A clock may be this far behind before an entry counts as one of the future.
AHEAD_MS = 5 * MINUTE_MS
# More water than this at once is more than a garlic bed drinks in a fortnight of hot days. Common practice, no source.
MUCH_WATER_MM = 60.0
# An amount so many times the greatest of the bed so far is likely a slip. Common practice, no source.
TIMES_USUAL = 5.0
NOTE_MOST = 2000
# What is done to plants in the ground only.
_OF_PLANTS = (Deed.FED, Deed.COUNTED, Deed.SCAPES_CUT, Deed.LIFTED, Deed.CURED, Deed.STORED, Deed.WEIGHED, Deed.WATERING_STOPPED)


def refuse_impossible(entry: Entry, garden: Garden) -> None:
    """Refuses what can be no entry. Raises QuestionError: what, where, got, wanted."""
    bed = garden.bed(entry.bed_id)
    if bed is None:
        raise QuestionError(f"bed {entry.bed_id!r}: the garden file names no such bed; it names {_names(garden)}")
    varieties = sorted({one.variety for one in bed.plantings})
    if entry.planting is not None and entry.planting not in varieties:
        raise QuestionError(f"planting {entry.planting!r}: {bed.name} has {', '.join(varieties) or 'none'}; or leave it out")
    known = AMOUNTS.get(entry.deed, {})
    for name, value in entry.amounts.items():
        if name not in known:
            raise QuestionError(f"{name}: an entry {entry.deed.value!r} knows {', '.join(known) or 'no amounts'}")
        amount = known[name]
        if not (math.isfinite(value) and amount.low <= value <= amount.high) or (amount.whole and value != int(value)):
            whole = "a whole number" if amount.whole else "a number"
            raise QuestionError(f"{name} is {value:g}; want {whole} from {amount.low:g} to {amount.high:g} [{amount.unit}]")
    if entry.deed is Deed.COUNTED and entry.what is not None and entry.what not in {stage.value for stage in Stage}:
        raise QuestionError(f"stage {entry.what!r}; want one of {', '.join(stage.value for stage in Stage)}")
    if len(entry.note) > NOTE_MOST or len(entry.what or "") > NOTE_MOST:
        raise QuestionError(f"the note has {len(entry.note)} characters; want at most {NOTE_MOST}")
    if not 0 <= entry.at_ms < 2**53:
        raise QuestionError(f"the time is {entry.at_ms} ms; want milliseconds since 1970")


def questions(entry: Entry, garden: Garden, others: Sequence[Entry], limits: FeedLimits, voice: Voice) -> tuple[str, ...]:
    """What a careful reader would ask before this is kept; empty where nothing is odd.

    Args:
        entry: what is to be kept, and possible; `written_ms` is now.
        garden: with its bed.
        others: the journal, none taken back, without this entry, oldest first.
        limits: what is usual of feedings.
        voice: how the grower is spoken to.
    """
    bed = garden.bed(entry.bed_id)
    assert bed is not None
    of_bed = [one for one in others if one.bed_id == bed.id]
    return (
        *_of_time(entry, bed, of_bed, voice),
        *_of_water(entry, bed, of_bed, voice),
        *_of_counts(entry),
        *_of_order(entry, of_bed, voice),
        *_of_feed(entry, of_bed, limits, voice),
    )


def _of_time(entry: Entry, bed: Bed, of_bed: Sequence[Entry], voice: Voice) -> Iterator[str]:
    now_ms, zone = entry.written_ms, voice.timezone
    if entry.at_ms > now_ms + AHEAD_MS:
        yield f"{voice.day(entry.at_ms, now_ms).capitalize()} at {voice.clock(entry.at_ms)} is still to come. Is the date right?"
    planted = _planted(entry, bed, of_bed, zone)
    if entry.deed in _OF_PLANTS and planted is not None and day_of(entry.at_ms, zone) < planted:
        said = voice.date(planted, day_of(now_ms, zone))
        yield f"That is before the planting, {said}. Is the date right?"
    if now_ms - entry.at_ms > 400 * DAY_MS:
        yield "That is more than a year ago. Is the date right?"


def _of_water(entry: Entry, bed: Bed, of_bed: Sequence[Entry], voice: Voice) -> Iterator[str]:
    litres = entry.amounts.get("litres")
    if litres is None or entry.deed is not Deed.WATERED:
        return
    if litres / bed.area_m2 > MUCH_WATER_MM:  # NaN where no area is told: no answer
        yield f"{voice.water(litres)} on this bed is more than it drinks in a fortnight of hot days. Right?"
    before = [one.amounts["litres"] for one in of_bed if one.deed is Deed.WATERED and one.amounts.get("litres")]
    if len(before) >= 3 and litres > TIMES_USUAL * max(before):
        yield f"{voice.water(litres)} is {litres / max(before):.0f} times the most that was ever given here. Right?"


def _of_counts(entry: Entry) -> Iterator[str]:
    leaves, browned = entry.amounts.get("leaves"), entry.amounts.get("browned")
    if leaves is not None and browned is not None and browned > leaves:
        yield f"{browned:.0f} brown leaves of {leaves:.0f}: the brown ones count among them. Are the counts right?"
    if leaves is not None and leaves > 15:
        yield f"Garlic rarely has more than twelve leaves; this says {leaves:.0f}. Is the count right?"


def _of_order(entry: Entry, of_bed: Sequence[Entry], voice: Voice) -> Iterator[str]:
    same = of_bed if entry.planting is None else about(of_bed, entry.planting)
    now = day_of(entry.written_ms, voice.timezone)
    lifted = newest([one for one in same if one.at_ms < entry.at_ms and entry.at_ms - one.at_ms < 300 * DAY_MS], Deed.LIFTED)
    if lifted is not None and entry.deed in (Deed.FED, Deed.COUNTED, Deed.SCAPES_CUT, Deed.LIFTED, Deed.WATERING_STOPPED):
        yield f"It was lifted {voice.date(day_of(lifted.at_ms, voice.timezone), now)} by the journal. Is this about the same bed?"
    if lifted is None and entry.deed in (Deed.CURED, Deed.STORED):
        yield "By the journal it was not lifted yet. Write that down first, or keep this all the same?"
    cloth = newest([one for one in of_bed if one.at_ms < entry.at_ms], Deed.CLOTH_LAID, Deed.CLOTH_OFF)
    if entry.deed is Deed.CLOTH_OFF and (cloth is None or cloth.deed is Deed.CLOTH_OFF):
        yield "By the journal no cloth lies there. Is this the right bed?"
    if entry.deed is Deed.CLOTH_LAID and cloth is not None and cloth.deed is Deed.CLOTH_LAID:
        yield f"By the journal a cloth lies there since {voice.date(day_of(cloth.at_ms, voice.timezone), now)}. One more?"


def _of_feed(entry: Entry, of_bed: Sequence[Entry], limits: FeedLimits, voice: Voice) -> Iterator[str]:
    if entry.deed is not Deed.FED:
        return
    stopped = newest([one for one in of_bed if one.at_ms < entry.at_ms], Deed.FEEDING_STOPPED)
    if stopped is not None and entry.at_ms - stopped.at_ms < 200 * DAY_MS:
        yield "You wrote that it is fed no more. Feed after bulbing makes leaves and loose bulbs. Keep it all the same?"
    dose = entry.amounts.get("n_g_m2")
    most = limits.spring_most_g_m2.value
    if dose is not None and dose > most:
        yield f"{voice.nitrogen(dose)} at once is more than Cornell's {voice.nitrogen(most)} for a whole spring. Right?"


def _planted(entry: Entry, bed: Bed, of_bed: Sequence[Entry], zone: ZoneInfo) -> dt.date | None:
    """When what the entry is about was planted, the earliest of a bed; None in a bed with no planting."""
    plantings = [one for one in bed.plantings if entry.planting in (None, one.variety)]
    first = min((one.planted for one in plantings), default=None)
    noted = newest([one for one in of_bed if entry.planting is None or one.planting in (None, entry.planting)], Deed.PLANTED)
    return first if noted is None or first is None else min(first, day_of(noted.at_ms, zone))


def _names(garden: Garden) -> str:
    return ", ".join(bed.id for bed in garden.beds) or "none"
