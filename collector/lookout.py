"""Looks ahead for every bed, about once an hour, and keeps what it finds: the outlook that rules and pages go by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from collector.advice.covered import covered
from collector.advice.foresight import WATER_PAST_DAYS, learned_diffusivity_m2_s, temperature_ahead, water_ahead, what_ifs_ahead
from collector.advice.long_past import long_series_of
from collector.advice.season.state import CLOTH_LIES_MS
from collector.advice.state import DAY_MS, HOUR_MS, MOISTURE_GAP_MS
from collector.calls import DoneMark
from collector.errors import QuestionError
from collector.forecaster import Forecaster
from collector.model import Bed, Garden
from collector.outlook import Outlook, TemperatureAhead, WaterAhead, WhatIf
from collector.ports import Clock, Readings, SeasonStore

# A bed is looked at anew each full hour, its water twice in it: that costs little.
WATER_EVERY_MS = HOUR_MS // 2
# What one look may take of the machine's time, so that a big garden's calls are never held up for long: the rest comes next.
LOOK_TAKES_S = 10.0
# The same bed no sooner than this by the machine's time: a simulated garden's hours pass in seconds.
BED_REST_S = 15.0


@dataclass(frozen=True, slots=True)
class _Looked:
    """When a bed was looked at last, by the machine's time [s]; what of the grower's marks was known; when its water was."""

    at_s: float = -math.inf
    marks: Sequence[DoneMark] = ()
    water_ms: int = 0


class Lookout:
    """Makes and keeps the outlook of each bed of a garden. One thread calls it."""

    def __init__(self, garden: Garden, readings: Readings, season: SeasonStore, forecaster: Forecaster, clock: Clock) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._readings = readings
        self._season = season
        self._forecaster = forecaster
        self._clock = clock
        self._looked: dict[str, _Looked] = {}

    def look(self) -> None:
        """Renew every outlook that is due, those that waited longest first, for some seconds. Raises what the stores raise."""
        began_s = self._clock.elapsed_s()
        for bed in sorted(self._garden.beds, key=lambda bed: self._last(bed).at_s):
            now_s = self._clock.elapsed_s()
            if now_s - began_s > LOOK_TAKES_S:
                return
            if now_s - self._last(bed).at_s >= BED_REST_S:
                self._renew(bed, self._clock.now_ms())

    def outlook(self, bed: Bed, now_ms: int) -> Outlook:
        """What is expected of a bed as of now [ms since 1970-01-01 UTC], with what the journal says that lies on it."""
        journal = self._season.entries(0, now_ms + 1)
        bed = covered(bed, journal, ZoneInfo(self._garden.timezone), now_ms)
        weather, records = self._forecaster.weather(bed, now_ms), self._forecaster.records(bed, now_ms)
        series = long_series_of(bed.probes, self._readings, now_ms - WATER_PAST_DAYS * DAY_MS - MOISTURE_GAP_MS, now_ms + 1)
        marks, site = self._marks(bed, now_ms), self._forecaster.site
        diffusivity_m2_s = learned_diffusivity_m2_s(records, now_ms)
        why_not = []
        temperature: TemperatureAhead | None = None
        water: WaterAhead | None = None
        what_ifs: tuple[WhatIf, ...] = ()
        try:
            temperature = temperature_ahead(bed, records, series, marks, weather, site, now_ms, diffusivity_m2_s)
            what_ifs = what_ifs_ahead(bed, series, marks, weather, site, now_ms, diffusivity_m2_s)
        except QuestionError as error:
            why_not.append(str(error))
        try:
            water = water_ahead(bed, series, marks, weather, site, now_ms)
        except QuestionError as error:
            why_not.append(str(error))
        return Outlook(
            bed_id=bed.id,
            made_ms=now_ms,
            temperature=temperature,
            water=water,
            weather=self._forecaster.weather_by,
            diffusivity_m2_s=diffusivity_m2_s,
            why_not=tuple(why_not),
            what_ifs=what_ifs,
        )

    # ------------------------------------------------------------ parts of the above

    def _last(self, bed: Bed) -> _Looked:
        return self._looked.get(bed.id, _Looked())

    def _renew(self, bed: Bed, now_ms: int) -> None:
        marks, last = self._marks(bed, now_ms), self._last(bed)
        kept = self._season.outlook(bed.id, now_ms // HOUR_MS * HOUR_MS)
        if kept is None or last.marks != marks:
            self._season.keep_outlook(self.outlook(bed, now_ms))
        elif now_ms - last.water_ms >= WATER_EVERY_MS:
            series = long_series_of(bed.probes, self._readings, now_ms - WATER_PAST_DAYS * DAY_MS - MOISTURE_GAP_MS, now_ms + 1)
            weather = self._forecaster.weather(bed, now_ms)
            try:
                water = water_ahead(bed, series, marks, weather, self._forecaster.site, now_ms)
            except QuestionError:  # the next full hour says so
                water = None
            self._season.keep_outlook(replace(kept, water=water))
        else:
            now_ms = last.water_ms
        self._looked[bed.id] = _Looked(self._clock.elapsed_s(), marks, now_ms)

    def _marks(self, bed: Bed, now_ms: int) -> Sequence[DoneMark]:
        marks = self._season.done_marks(now_ms - CLOTH_LIES_MS, now_ms + 1)
        return [mark for mark in marks if mark.bed_id == bed.id and mark.undone_ms is None]
