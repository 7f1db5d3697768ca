"""The seasons of a garden's beds, worked out anew each hour and when something is written down. Reads the stores."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from collector.advice.long_past import hours
from collector.advice.season.built import TROUBLE_DAYS, begins, locale_of, season_of
from collector.advice.season.record import HOUR_MS, Course, Record, as_said, start_of, together
from collector.advice.season.state import SeasonState
from collector.advice.temperatures import cloves_on
from collector.journal import Entry
from collector.model import Bed, Garden, Place, Probe, Series
from collector.outlook import Outlook
from collector.ports import Readings, SeasonStore
from collector.units import Quantity

DAY_MS = 24 * HOUR_MS


class Seasons:
    """How far each bed's crop is. Any thread may ask."""

    def __init__(self, garden: Garden, readings: Readings, season: SeasonStore) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._readings = readings
        self._season = season
        self._locale = locale_of(garden)
        self._lock = threading.Lock()
        self._made: dict[str, tuple[object, SeasonState]] = {}

    def entries(self, now_ms: int) -> Sequence[Entry]:
        """The journal of the seasons that are going on, oldest first."""
        first = min((day for bed in self._garden.beds if (day := begins(bed)) is not None), default=None)
        return () if first is None else self._season.entries(start_of(first, self._locale.timezone), now_ms + 1)

    def known(self, bed: Bed) -> SeasonState | None:
        """The season of a bed as it was worked out last; None where it never was."""
        with self._lock:
            return self._made[bed.id][1] if bed.id in self._made else None

    def of(self, bed: Bed, entries: Sequence[Entry], outlook: Outlook | None, now_ms: int) -> SeasonState:
        """The season of a bed; the very same object as before while nothing is new. Raises what the stores raise.

        Args:
            bed: the bed.
            entries: of the journal, as `entries`.
            outlook: what is expected of the bed, if anything is.
            now_ms: the moment [ms since 1970-01-01 UTC].
        """
        own = [entry for entry in entries if entry.bed_id == bed.id]
        basis = (own, now_ms // HOUR_MS, outlook and outlook.made_ms)
        with self._lock:
            made = self._made.get(bed.id)
            if made is None or made[0] != basis:
                record = self._record(bed, outlook, now_ms)
                made = basis, season_of(bed, self._garden, self._locale, record, own, now_ms)
                self._made[bed.id] = made
            return made[1]

    # ------------------------------------------------------------ parts of the above

    def _record(self, bed: Bed, outlook: Outlook | None, now_ms: int) -> Record:
        first = begins(bed)
        if first is None:
            return Record()
        from_ms = start_of(first, self._locale.timezone)
        air, humidity = self._weather_probe(bed, Quantity.AIR_TEMPERATURE), self._weather_probe(bed, Quantity.RELATIVE_HUMIDITY)
        rain, lately_ms = self._weather_probe(bed, Quantity.RAIN), now_ms - (TROUBLE_DAYS + 1) * DAY_MS
        ahead = outlook.temperature if outlook else None
        return Record(
            air_c=self._hourly(air, from_ms, now_ms),
            air=together(self._said(air, lately_ms, now_ms), self._said(humidity, lately_ms, now_ms)),
            rain_mm=None if rain is None else self._said(rain, lately_ms, now_ms),
            cloves_c=_at_the_cloves(
                bed, {one.id: self._hourly(one, from_ms, now_ms) for one in bed.probes_of(Quantity.SOIL_TEMPERATURE)}
            ),
            store_c=self._hourly(self._placed(bed, Place.CHILL_STORE, Quantity.AIR_TEMPERATURE), from_ms, now_ms),
            curing=together(
                self._hourly(self._placed(bed, Place.CURING, Quantity.AIR_TEMPERATURE), from_ms, now_ms),
                self._hourly(self._placed(bed, Place.CURING, Quantity.RELATIVE_HUMIDITY), from_ms, now_ms),
            ),
            ahead_c=Course() if ahead is None else Course(ahead.time_ms, ahead.mean_c),
        )

    def _hourly(self, probe: Probe | None, from_ms: int, now_ms: int) -> Course:
        return Course() if probe is None else hours(self._readings, probe.id, from_ms, now_ms + 1)

    def _said(self, probe: Probe | None, from_ms: int, now_ms: int) -> Course:
        return Course() if probe is None else as_said(self._readings.series(probe.id, from_ms, now_ms + 1))

    def _placed(self, bed: Bed, place: Place, quantity: Quantity) -> Probe | None:
        """The probe of a quantity in a place: the bed's own, else another bed's, for they often share it."""
        return next((probe for one in (bed, *self._garden.beds) for probe in one.probes_of(quantity, place)), None)

    def _weather_probe(self, bed: Bed, quantity: Quantity) -> Probe | None:
        return self._placed(bed, Place.BED, quantity)


def cloves_by_hour(readings: Readings, bed: Bed, from_ms: int, to_ms: int) -> dict[float, Course]:
    """The soil by the hour at the depth of each planting of a bed [m], from_ms <= t < to_ms. Raises what the store raises."""
    thermometers = bed.probes_of(Quantity.SOIL_TEMPERATURE)
    return _at_the_cloves(bed, {probe.id: hours(readings, probe.id, from_ms, to_ms) for probe in thermometers})


def _at_the_cloves(bed: Bed, courses: Mapping[str, Course]) -> dict[float, Course]:
    """The soil at the depth of each planting [m], out of the hours of the bed's thermometers."""
    series = {id_: Series(id_, one.time_ms, one.value, np.zeros(one.time_ms.size, np.int64)) for id_, one in courses.items()}
    said = [one.time_ms for one in courses.values() if one.time_ms.size]
    grid_ms = np.unique(np.concatenate(said)) if said else np.array([], dtype=np.int64)
    return {one.depth_m: Course(grid_ms, cloves_on(replace(bed, plantings=(one,)), series, grid_ms)) for one in bed.plantings}
