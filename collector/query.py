"""The questions the dashboard may ask, and the answers it gets.

One door for the pages: they import this module, `collector.model` and `collector.units`,
and nothing deeper. Every answer is a fresh frozen value; arrays in it are read only by
agreement.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from collector.advice import mounted, mounting
from collector.advice.another_time import as_expected, as_it_was, last_of
from collector.advice.answers import SNOOZE_DAYS, Answer, Answers, Asked, litres_asked, snoozed_until_ms
from collector.advice.claims import IN_SOIL, Claims, Moved, may_be
from collector.advice.covered import covered
from collector.advice.cut_depths import cut_depths_m, followed_depths_m
from collector.advice.fault_words import fault_words
from collector.advice.follow import Followers, Track
from collector.advice.heard import Heard, behind_words, heard, heard_ms
from collector.advice.long_past import long_series
from collector.advice.mounting import Spot
from collector.advice.rounds import Round, Rounds, series_of
from collector.advice.rules import UNDO_MS, newest_mark
from collector.advice.season.comparer import Choice, Comparer, Comparison
from collector.advice.season.entry_words import entry_words
from collector.advice.season.feed_view import FeedView, feed_view
from collector.advice.season.notebook import MOST_PICTURE_BYTES, Notebook
from collector.advice.season.season_words import headline, lines
from collector.advice.state import DAY_MS, HOUR_MS, MINUTE_MS, MOISTURE_GAP_MS, MOISTURE_PATIENCE_MS, STATE_SPAN_MS, grid_of
from collector.advice.views import BedHistory, BedView, GardenView, Health, ProbeView, Swing
from collector.advice.voice import voice_of
from collector.advice.wellness import Wellness
from collector.advice.wetted_words import wetted_sentence
from collector.advice.what_if_words import IfChanged, WhatIfView, what_if_view
from collector.advice.wording import PRESSING, WordedCall, cool_line, fine_sentence, word, worth_showing
from collector.by_hand import ByHand, OpenStore
from collector.calibrating import Calibrating
from collector.calibration import Calibration
from collector.calls import Call, Due, Errand, Job, Notice
from collector.errors import QuestionError
from collector.journal import Deed, Entry
from collector.model import Bed, Garden, Place, Probe, Reading, Series
from collector.outlook import OUTLOOK_PATIENCE_MS, Outlook
from collector.ports import Clock, CountedReadings, GardenKeeper, PictureStore, ReportedSeason
from collector.rollup import Every
from collector.units import Quantity

# What the pages take from here.
__all__ = [
    "IN_SOIL",
    "LONGEST_IN_FULL_DAYS",
    "MOST_PICTURE_BYTES",
    "SNOOZE_DAYS",
    "UNDO_MS",
    "Answer",
    "Asked",
    "BedHistory",
    "BedView",
    "Calibration",
    "Choice",
    "Comparison",
    "FeedView",
    "GardenView",
    "Health",
    "Heard",
    "IfChanged",
    "Moved",
    "Outlook",
    "ProbeView",
    "SoilQueries",
    "Spot",
    "Swing",
    "WhatIfView",
    "WordedCall",
    "may_be",
    "mounted",
    "mounting",
    "pressing",
]

# An air temperature older than this says little of the air now: the morning warms by as much as 3 K in it.
AIR_PATIENCE_MS = HOUR_MS

# A page cannot wait until the seasons of a whole farm are read: the next look has the next few.
SEASONS_A_ROUND = 4

_AIR = (Quantity.AIR_TEMPERATURE, Place.BED)

# A history has at most so many steps, and none shorter than this: soil is slower.
GRID_MOST_STEPS, GRID_LEAST_STEP_MS = 400, 10 * MINUTE_MS
# A span of more days than this is told in means of days. Four times a day, evenly, make the mean of a daily wave and of one
# of half its length exactly.
LONGEST_IN_FULL_DAYS, STEP_OF_DAYS_MS = 70, DAY_MS // 4
# Of a longer span the readings come rolled up by ten minutes, but for the last day.
FINE_SPAN_MS = 4 * DAY_MS
# A history that begins no longer ago than this is told by the estimator, hour by hour; a longer one by straight lines
# between the probes, for its steps are as long as the waves that a line gets wrong.
FOLLOWED_MS = 31 * DAY_MS


class SoilQueries:
    """Answers from the stores; opened by wiring.py, one for each process that asks.

    Any thread may ask. What the stores raise (StoreError) is raised on.
    """

    def __init__(
        self,
        garden: Garden,
        readings: CountedReadings,
        season: ReportedSeason,
        clock: Clock,
        pictures: PictureStore | None = None,
        keeper: GardenKeeper | None = None,
        open_store: OpenStore | None = None,
    ) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._readings = readings
        self._season = season
        self._clock = clock
        self._rounds = Rounds(garden, readings, season, SEASONS_A_ROUND)
        self._followers = Followers(readings, followed_depths_m)
        self._voice = voice_of(garden)
        self.seasons = Comparer(garden, readings, season, clock)
        self.journal = Notebook(garden, season, clock, pictures)
        self.calibrating = Calibrating(garden, readings, season, clock)
        self.by_hand = ByHand(garden, clock, open_store)
        self.claims = Claims(garden, readings, clock, keeper)
        self.answers = Answers(garden, season, self._rounds, clock)
        self._wellness = Wellness(garden, readings, season, clock)

    def garden(self) -> GardenView:
        """Every bed now, the most pressing first."""
        now_ms = self._clock.now_ms()
        views = self._views(self._garden.beds, now_ms)
        heard_last = [probe.last for view in views for probe in view.probes if probe.last is not None]
        behind = behind_words(heard_last, now_ms, self._voice)
        return GardenView(
            garden=self._garden,
            now_ms=now_ms,
            beds=tuple(sorted(views, key=pressing)),
            unclaimed=len(self.claims.strangers()),
            trouble=(*self._wellness.of_collector(now_ms)[0], *([] if behind is None else [behind])),
        )

    def bed(self, bed_id: str) -> BedView:
        """One bed now. Raises QuestionError for an unknown id."""
        (view,) = self._views([self._bed(bed_id)], self._clock.now_ms())
        return view

    def bed_at(self, bed_id: str, at_ms: int) -> BedView:
        """One bed as it was at `at_ms`, or as it is expected to be then if nothing is done [ms since 1970-01-01 UTC].

        Raises QuestionError for an unknown id, and for a moment that is not foreseen.
        """
        view, now_ms = self.bed(bed_id), self._clock.now_ms()
        if at_ms > now_ms:
            return as_expected(view, at_ms, self._voice)
        in_air = [probe for probe in self._garden.probes if (probe.quantity, probe.place) == _AIR]
        from_ms, to_ms = at_ms - MOISTURE_PATIENCE_MS, min(at_ms + MOISTURE_GAP_MS, now_ms + 1)
        series = {one.id: self._readings.series(one.id, from_ms, to_ms) for one in (*view.bed.probes, *in_air)}
        last = {probe.id: said for probe in in_air if (said := last_of(series[probe.id], at_ms)) is not None}
        written = [one for one in self._season.entries(0, at_ms + 1) if one.bed_id == bed_id]
        air_c = self._air_c(view.bed, last, at_ms)
        return as_it_was(view, series, self._track(view.bed, at_ms, now_ms), written, air_c, at_ms, self._voice)

    def history(self, bed_id: str, from_ms: int, to_ms: int) -> BedHistory:
        """One bed over a span. Raises QuestionError for an unknown id or a span that ends before it begins."""
        bed, now_ms = self._bed(bed_id), self._clock.now_ms()
        bed = covered(bed, self._season.entries(0, now_ms + 1), self._voice.timezone, now_ms)
        if to_ms <= from_ms:
            raise QuestionError(
                f"history of {bed_id}: ends at {to_ms} ms, begins at {from_ms} ms; want an end after the beginning"
            )
        in_days = to_ms - from_ms > LONGEST_IN_FULL_DAYS * DAY_MS
        step_ms = STEP_OF_DAYS_MS if in_days else max((to_ms - from_ms) // GRID_MOST_STEPS, GRID_LEAST_STEP_MS)
        grid_ms = np.arange(from_ms, to_ms, step_ms, dtype=np.int64)
        thermometers, moisture_probes = bed.probes_of(Quantity.SOIL_TEMPERATURE), bed.probes_of(Quantity.SOIL_MOISTURE)
        # A little more at both ends, so that the line runs into the span and out of it.
        ends_ms = (from_ms - MOISTURE_GAP_MS, min(to_ms + MOISTURE_GAP_MS, now_ms + 1))
        series = {probe.id: self._course(probe, *ends_ms, in_days=in_days) for probe in (*thermometers, *moisture_probes)}
        grid_depths_m = cut_depths_m(bed)
        grid = grid_of(bed, series, grid_ms, grid_depths_m, self._track(bed, from_ms, now_ms))
        marks = self._season.done_marks(from_ms, to_ms)
        return BedHistory(
            bed=bed,
            from_ms=from_ms,
            to_ms=to_ms,
            now_ms=now_ms,
            temperatures=tuple((probe, series[probe.id].within(from_ms, to_ms)) for probe in thermometers),
            moistures=tuple((probe, series[probe.id].within(from_ms, to_ms)) for probe in moisture_probes),
            grid_ms=grid_ms,
            cloves_c=grid.cloves_c,
            grid_depths_m=grid_depths_m,
            profile_c=grid.profile_c,
            depletion_mm=grid.depletion_mm,
            waterings=tuple(
                (mark.at_ms, np.nan if mark.litres is None else mark.litres)
                for mark in marks
                if mark.bed_id == bed.id and mark.job is Job.WATER and mark.undone_ms is None
            ),
            outlook=self._season.outlook(bed.id, now_ms - OUTLOOK_PATIENCE_MS),
            deeds=tuple(
                (one.at_ms, one.deed)
                for one in self._season.entries(from_ms, to_ms)
                if one.bed_id == bed.id and one.deed in (Deed.CLOTH_LAID, Deed.CLOTH_OFF, Deed.FED)
            ),
            swings=tuple(self._swing(probe, from_ms, to_ms) for probe in thermometers[:1]) if in_days else (),
        )

    def _swing(self, probe: Probe, from_ms: int, to_ms: int) -> Swing:
        """What the mean of a day does not tell: how cold and how warm it was in it."""
        days = self._readings.steps(probe.id, from_ms, to_ms, Every.DAY)
        return Swing(probe, days.begin_ms + DAY_MS // 2, days.least, days.most)

    def _course(self, probe: Probe, from_ms: int, to_ms: int, *, in_days: bool) -> Series:
        """What a probe said, as finely as a picture of the span can show."""
        if in_days:
            return self._readings.steps(probe.id, from_ms, to_ms, Every.HOUR).means()
        as_it_came_ms = DAY_MS if to_ms - from_ms > FINE_SPAN_MS else to_ms - from_ms
        return long_series(self._readings, probe, from_ms, to_ms, as_it_came_ms, peaks=True)

    def notices(self, limit: int = 50) -> Sequence[Notice]:
        """What was told, the newest first."""
        return self._season.notices(limit)

    def ways(self, notices: Sequence[Notice]) -> Mapping[int, Sequence[Errand]]:
        """How notices went to each phone, by the notice's id."""
        found: dict[int, list[Errand]] = {}
        for errand in self._season.ways([notice.id for notice in notices]):
            found.setdefault(errand.notice.id, []).append(errand)
        return found

    def snooze(self, notice_id: int, days: int = 1) -> None:
        """Tell this notice again in the morning so many days from now at the earliest. Raises QuestionError for an unknown id."""
        self._season.snooze(notice_id, snoozed_until_ms(self._clock.now_ms(), days, self._voice))

    def mark_done(self, bed_id: str, job: Job) -> None:
        """The grower says the job is done; a watering is one of what its call asks for now.

        Raises QuestionError for an unknown bed.
        """
        now_ms = self._clock.now_ms()
        (here,) = self._rounds.go([self._bed(bed_id)], now_ms)
        self._season.done(bed_id, job, now_ms, litres_asked(here.calls) if job is Job.WATER else None)

    def undo(self, bed_id: str, job: Job) -> None:
        """The grower takes that back. Raises QuestionError where nothing was marked done in the last 10 minutes."""
        now_ms = self._clock.now_ms()
        marks = self._season.done_marks(now_ms - UNDO_MS, now_ms + 1)
        if newest_mark(marks, self._bed(bed_id).id, job) is None:
            raise QuestionError(f"{job.value} in {bed_id}: nothing was marked done in the last 10 minutes to undo")
        self._season.undo(bed_id, job, now_ms)

    def mark_seen(self, notice_id: int) -> None:
        """The grower has seen this notice. Raises QuestionError for an unknown id."""
        self._season.see(notice_id, self._clock.now_ms())

    def season_words(self, bed_id: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """For each planting of a bed how far it is, and what is known of it, in sentences; empty where that is not worked out.

        Raises QuestionError for an unknown bed.
        """
        (here,) = self._rounds.go([self._bed(bed_id)], self._clock.now_ms())
        season = here.state.season
        plantings = () if season is None else season.plantings
        return tuple(
            (headline(one, season, self._voice), lines(one, season, self._voice)) for one in plantings if season is not None
        )

    def feeding(self, bed_id: str) -> FeedView | None:
        """The feeding of a bed in words; None where its season is not worked out. Raises QuestionError for an unknown bed."""
        (here,) = self._rounds.go([self._bed(bed_id)], self._clock.now_ms())
        return feed_view(here.state, self._voice)

    def what_if(self, bed_id: str) -> WhatIfView | None:
        """What might be changed in a bed, and what that would do; None where its days ahead are not foreseen.

        Raises QuestionError for an unknown bed.
        """
        (here,) = self._rounds.go([self._bed(bed_id)], self._clock.now_ms())
        return what_if_view(here.state, self._voice)

    def entry_words(self, entry: Entry) -> str:
        """An entry of the journal as a line to read."""
        return entry_words(entry, self._voice)

    def health(self) -> Health:
        """How the collector is."""
        return self._wellness.health()

    # ------------------------------------------------------------ parts of the above

    def _bed(self, bed_id: str) -> Bed:
        bed = self._garden.bed(bed_id)
        if bed is None:
            known = ", ".join(one.id for one in self._garden.beds) or "none"
            raise QuestionError(f"bed {bed_id!r}: the garden file names no such bed; it names {known}")
        return bed

    def _track(self, bed: Bed, from_ms: int, now_ms: int) -> Track | None:
        """How the temperatures of a bed came about since `from_ms` [ms]; None where that is too long ago, or it is too young."""
        if not 0 <= now_ms - from_ms <= FOLLOWED_MS:
            return None
        series = series_of(bed, self._readings, now_ms - STATE_SPAN_MS, now_ms + 1)
        followed, _ = self._followers.followed(bed, series, from_ms, now_ms)
        return None if followed is None else followed.track

    def _views(self, beds: Sequence[Bed], now_ms: int) -> list[BedView]:
        latest = self._readings.latest()
        return [self._view(one, latest, now_ms) for one in self._rounds.go(beds, now_ms)]

    def _view(self, one: Round, latest: Mapping[str, Reading], now_ms: int) -> BedView:
        state, bed = one.state, one.state.bed
        probes = tuple(self._probe_view(probe, latest.get(probe.id), one.series[probe.id], now_ms) for probe in bed.probes)
        # Air and battery are no word from the soil, so a bed with probes in the soil goes by those.
        in_soil = [view for view in probes if view.probe.depth_m is not None] or list(probes)
        how = min((view.heard for view in in_soil), key=list(Heard).index, default=Heard.NEVER)
        behind = [view.last for view in in_soil if view.last and view.heard is Heard.BEHIND] if how is Heard.BEHIND else []
        shown = [call for call in worth_showing(one.calls) if not behind or call.due is not Due.NOT_KNOWN]
        crossings_m = state.temperature.crossings(bed.cool_limit_c) if state.temperature and bed.cool_limit_c is not None else ()
        return BedView(
            bed=bed,
            state=state,
            calls=tuple(word(self._with_litres(call, state.now_ms), state, self._voice) for call in shown),
            fine=fine_sentence(one.calls, state, self._voice),
            probes=probes,
            heard=how,
            heard_ms=max((heard_ms(view.last) for view in in_soil if view.last), default=None),
            cool_line=cool_line(state, self._voice),
            crossings_m=crossings_m,
            air_c=self._air_c(bed, latest, now_ms),
            foreseen=tuple(
                (call.job, round(call.numbers["by_ms"]))
                for call in one.calls
                if call.due in (Due.SOON, Due.FINE) and "by_ms" in call.numbers
            ),
            behind=behind_words(behind, now_ms, self._voice),
            wetted=wetted_sentence(state, self._voice),
            unsaid_watering_ms=state.wetted.unsaid_ms if state.wetted else None,
        )

    def _with_litres(self, call: Call, now_ms: int) -> Call:
        """A watering that is done, with what was given as far as it was told."""
        if (call.job, call.due) != (Job.WATER, Due.DONE):
            return call
        marks = self._season.done_marks(call.since_ms, now_ms + 1)
        told = [mark.litres for mark in marks if (mark.bed_id, mark.job, mark.at_ms) == (call.bed_id, call.job, call.since_ms)]
        given = {} if not told or told[-1] is None else {"given_litres": told[-1]}
        return replace(call, numbers={**call.numbers, **given})

    def _air_c(self, bed: Bed, latest: Mapping[str, Reading], now_ms: int) -> float | None:
        """Air over one garden is one air, so the nearest thermometer that spoke lately serves a bed that has none."""
        for probe in sorted(self._garden.probes, key=lambda probe: probe.bed_id != bed.id):
            last = latest.get(probe.id) if (probe.quantity, probe.place) == _AIR else None
            if last is not None and last.trusted and now_ms - last.measured_ms <= AIR_PATIENCE_MS:
                return last.value
        return None

    def _probe_view(self, probe: Probe, last: Reading | None, series: Series, now_ms: int) -> ProbeView:
        return ProbeView(probe, last, heard(last, series, now_ms), fault_words(probe, last, self._voice))


def pressing(view: BedView) -> int:
    """The place of a bed among others: the lower, the more pressing is what it asks for."""
    return min((PRESSING.index(worded.call.due) for worded in view.calls), default=len(PRESSING))
