"""One message a morning that sums up what is due in all the beds, at the hour that each phone wants it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Protocol

from collector.advice.rounds import Round
from collector.advice.voice import voice_of
from collector.advice.wording import NUDGES, PRESSING, WordedCall, word, worth_showing
from collector.calls import Call, Due, Job, Memory, Notice
from collector.model import Garden
from collector.ports import Clock, SeasonStore
from collector.settings import NotifySettings

HOUR_MS = 3_600_000
# A collector that starts so late after the hour has slept through that morning: the next is soon enough.
LATE_MS = 6 * HOUR_MS
GARDEN = "the garden"  # in the place of a bed
# A notice waits while it is among the newest so many, which is more than come in the days that it may wait.
_NEWEST = 1000


class Post(Protocol):
    """What the summary needs of `notices`."""

    def post_to(self, channel: str, memory: Memory, notice: Notice) -> None:
        """Save a memory and raise a notice for one phone, in one transaction."""


class Summary:
    """Sums up the beds of one garden. One thread calls it."""

    def __init__(self, garden: Garden, season: SeasonStore, notices: Post, clock: Clock) -> None:
        """It opens nothing: the store is the caller's to close."""
        self._garden = garden
        self._season = season
        self._notices = notices
        self._clock = clock
        self._voice = voice_of(garden)

    def look(self, rounds: Sequence[Round]) -> None:
        """Tell each phone whose hour has come, once a day, what these rounds through the beds found; nothing due is no word."""
        now_ms = self._clock.now_ms()
        due_now = [settings for settings in self._garden.notify if self._hour_came(settings, now_ms)]
        if not due_now:
            return
        memories = self._season.memories()
        for settings in due_now:
            key = (f"{GARDEN}, {settings.url_env}", Job.LOOK)
            before = memories.get(key)
            if before is not None and before.told_ms is not None and before.told_ms >= self._hour_ms(settings, now_ms):
                continue
            found = self.words(rounds)
            memory = Memory(*key, due=Due.FINE, since_ms=now_ms, told_ms=now_ms)
            if found is None:
                self._season.record([memory], [])
            else:
                self._notices.post_to(settings.url_env, memory, Notice(0, now_ms, GARDEN, Job.LOOK, *found))

    def words(self, rounds: Sequence[Round]) -> tuple[str, str] | None:
        """Title and text of the message; None where nothing is due and all is known, but for what the grower lets wait."""
        lines, jobs, waiting = [], 0, self._waiting(self._clock.now_ms())
        for each in rounds:
            shown = [call for call in worth_showing(each.calls) if not waiting(call)]
            calls = [word(call, each.state, self._voice) for call in shown]
            told = [
                one
                for one in calls
                if one.call.due in (Due.DUE, Due.SOON) or (one.call.due is Due.NOT_KNOWN and one.call.job not in NUDGES)
            ]
            told.sort(key=lambda one: PRESSING.index(one.call.due))
            jobs += sum(one.call.due is Due.DUE for one in told)
            if told:
                lines.append(f"{each.state.bed.name}: {'; '.join(map(_brief, told))}.")
        if not lines:
            return None
        title = f"{jobs} {'job' if jobs == 1 else 'jobs'} today" if jobs else "Nothing is due today"
        return title, " ".join(lines)

    def _waiting(self, now_ms: int) -> Callable[[Call], bool]:
        """Whether a call is to wait, for the grower says so of its notice and it has not become more pressing since."""
        newest = {(one.bed_id, one.job): one for one in reversed(self._season.notices(_NEWEST))}
        memories = self._season.memories()

        def waits(call: Call) -> bool:
            notice, memory = newest.get((call.bed_id, call.job)), memories.get((call.bed_id, call.job))
            if notice is None or notice.snoozed_ms is None or not now_ms < notice.snoozed_ms or notice.cleared_ms is not None:
                return False
            return memory is None or (memory.told, call.due) != (Due.SOON, Due.DUE)

        return waits

    def _hour_came(self, settings: NotifySettings, now_ms: int) -> bool:
        return settings.summary_at is not None and 0 <= now_ms - self._hour_ms(settings, now_ms) < LATE_MS

    def _hour_ms(self, settings: NotifySettings, now_ms: int) -> int:
        """When the hour of today is, or was [ms since 1970-01-01 UTC], by the garden's clock."""
        today = self._voice.local(now_ms).date()
        at = dt.datetime.combine(today, settings.summary_at or dt.time(), self._voice.timezone)
        return round(1000 * at.timestamp())


def _brief(one: WordedCall) -> str:
    heading = one.heading[0].lower() + one.heading[1:]
    return heading if one.call.due is Due.DUE else f"{one.flag[0].lower()}{one.flag[1:]}: {heading}"
