"""Notices on their way to the grower: raised once, held through quiet hours, tried until delivered.

A notice, its errands and the memory that it was told are one transaction, so a notice is
never raised twice and never lost. Handing it over and noting that are two steps that no
transaction can join: a collector killed between them tells it again when it is back. At
least once is the better half of that choice, since a message not sent is a bed not watered.
"""

from __future__ import annotations

import datetime as dt
import logging
import secrets
from collections.abc import Sequence
from dataclasses import replace

from collector.advice.links import NONCE_BYTES, Links
from collector.advice.voice import voice_of
from collector.calls import Due, Errand, Job, Memory, Notice
from collector.errors import NotifyError
from collector.model import Garden
from collector.ports import Clock, Notifier, SeasonStore

log = logging.getLogger("cooldepth")

MINUTE_MS = 60 * 1000

# After each failed attempt the next waits longer, then an hour each time: a phone without a
# network is back in minutes, a mistyped address not before somebody mends it.
BACKOFF_MINUTES = (1, 2, 5, 15, 60)
# A message that comes later than this says from when it is.
LATE_MS = 15 * MINUTE_MS
# What is due is told again so often at most; then the pages have to do.
REMINDERS = 3
_REMIND_WITHIN_MS = 20 * 24 * 60 * MINUTE_MS
# What cannot wait for the next morning's summary.
AT_ONCE = (Job.HOSE, Job.STAKE)
# Where a notice is of no bed, one of these stands in the place of one.
COLLECTOR, BROKER, GROUP = "the collector", "the broker", "the group"
DISK, ABSENCE, SILENCE = "the disk", "the absence", "the stakes"
ALARMS = (COLLECTOR, BROKER, GROUP, DISK, ABSENCE, SILENCE)
ALARM_TITLES = {
    (COLLECTOR, Due.SOON): "InfluxDB has taken no readings for an hour",
    (COLLECTOR, Due.DUE): "No more readings are taken in: see to InfluxDB",
    (BROKER, Due.SOON): "The broker drops messages",
    (BROKER, Due.DUE): "The broker goes on dropping messages",
    (GROUP, Due.SOON): "A collector of the group is away",
    (GROUP, Due.DUE): "See to the group: collectors are away",
    (DISK, Due.SOON): "The disk of the collector fills",
    (DISK, Due.DUE): "Make room on the collector's disk: readings will stop",
    (ABSENCE, Due.SOON): "The collector was not running",
    (SILENCE, Due.SOON): "No stake speaks",
    (SILENCE, Due.DUE): "No stake has spoken for a day",
}
# A notice is cleared while it is among the newest so many; more than these are never open at once.
_NEWEST = 1000


class Notices:
    """The outbox of one garden. One thread calls it; it may block for as long as a phone takes to answer."""

    def __init__(
        self,
        garden: Garden,
        season: SeasonStore,
        notifiers: Sequence[Notifier],
        clock: Clock,
        links: Links | None = None,
    ) -> None:
        """`notifiers` are the ways to the grower's phones; quiet hours are those the garden file gives for each channel.

        Without `links` messages hold none.
        """
        self._garden = garden
        self._season = season
        self._links = links
        self._notifiers = {notifier.channel: notifier for notifier in notifiers}
        self._clock = clock
        self._voice = voice_of(garden)
        self._quiet = {
            settings.url_env: (settings.quiet_from, settings.quiet_to)
            for settings in garden.notify
            if settings.quiet_from is not None and settings.quiet_to is not None
        }
        self._remind_ms = {settings.url_env: settings.remind_after_h * 60 * MINUTE_MS for settings in garden.notify}
        self._summary_only = {settings.url_env for settings in garden.notify if settings.summary_only}
        self._dug_up_at_once = {settings.url_env for settings in garden.notify if settings.dug_up_at_once}

    def post(
        self,
        memories: Sequence[Memory],
        raised: Sequence[Notice],
        cleared: Sequence[tuple[str, Job]],
        with_another: Sequence[Notice] = (),
    ) -> None:
        """Save memories, raise notices with an errand for each phone, and clear older ones, in one transaction.

        Notices `with_another` get no errand: one of the raised says what they say.
        """
        now_ms = self._clock.now_ms()
        answered = [
            (replace(notice, cleared_ms=now_ms), ())
            for notice in (self._season.notices(_NEWEST) if cleared else ())
            if notice.cleared_ms is None and (notice.bed_id, notice.job) in cleared
        ]
        errands = [
            (notice, [Errand(notice, one, self._not_quiet_ms(one, notice.job, now_ms)) for one in self._channels_for(notice)])
            for notice in raised
        ]
        self._season.record(memories, [*answered, *errands, *((notice, ()) for notice in with_another)])
        for notice in raised:
            log.info("%s %s", _sentence(notice.title), notice.text)

    def post_to(self, channel: str, memory: Memory, notice: Notice) -> None:
        """Save a memory and raise a notice for one phone, in one transaction."""
        not_before_ms = self._not_quiet_ms(channel, notice.job, self._clock.now_ms())
        errands = [Errand(notice, channel, not_before_ms)] if channel in self._notifiers else []
        self._season.record([memory], [(notice, errands)])
        log.info("%s %s", _sentence(notice.title), notice.text)

    def remind(self) -> None:
        """Put what is due, and was neither done nor seen for a while, on its way again."""
        if not any(self._remind_ms.values()):
            return
        now_ms = self._clock.now_ms()
        memories = None
        for errand in self._season.delivered(now_ms - _REMIND_WITHIN_MS):
            after_ms, notice = self._remind_ms.get(errand.channel, 0), errand.notice
            waited_ms = now_ms - (errand.delivered_ms or now_ms)
            quiet = notice.snoozed_ms is not None and now_ms < notice.snoozed_ms
            if not after_ms or waited_ms < after_ms or errand.reminders >= REMINDERS or quiet:
                continue
            memories = self._season.memories() if memories is None else memories
            memory = memories.get((notice.bed_id, notice.job))
            if memory is not None and memory.due is Due.DUE and memory.told_ms is not None:
                not_before_ms = self._not_quiet_ms(errand.channel, notice.job, now_ms)
                again = replace(errand, delivered_ms=None, not_before_ms=not_before_ms, attempts=0)
                self._season.settle(replace(again, reminders=errand.reminders + 1))

    def heed(self, kind: str, alarm: tuple[Due, str] | None) -> None:
        """Tell what threatens the readings, and again when it becomes more pressing; clear it when it is over (None).

        `kind` is one of ALARMS. Due.NOT_KNOWN leaves things as they are. The words for the broker hold a count
        that goes on while the collector is started anew: the same words are no news.
        """
        key, now_ms = (kind, Job.LOOK), self._clock.now_ms()
        due, text = (Due.FINE, "") if alarm is None else alarm
        if due is Due.NOT_KNOWN:
            return
        before = self._season.memories().get(key, Memory(*key))
        if due is not before.due and not (before.due is Due.DUE and due is Due.SOON):
            told_ms = None if alarm is None else now_ms
            memory = Memory(*key, due=due, since_ms=now_ms, told_ms=told_ms, told=alarm and due)
            known = alarm is None or (kind == BROKER and before.due is Due.FINE and self._told_last(kind) == text)
            raised = [] if known else [Notice(0, now_ms, *key, ALARM_TITLES[kind, due], text)]
            self.post([memory], raised, [] if alarm else [key])
        if alarm is not None:
            self.deliver()  # there may be no advice in these hours, after which it is done otherwise

    def _told_last(self, kind: str) -> str | None:
        """The words that were last told of it."""
        return next((notice.text for notice in self._season.notices(_NEWEST) if notice.bed_id == kind), None)

    def deliver(self) -> None:
        """Run every errand whose time has come, once. What fails stays in the outbox and is tried again later."""
        for errand in self._season.errands(self._clock.now_ms()):
            self._season.settle(self._run(errand))

    def _run(self, errand: Errand) -> Errand:
        try:
            self._hand_over(errand)
        except NotifyError as error:
            log.warning("notice %d not delivered: %s", errand.notice.id, error)
            wait_ms = MINUTE_MS * BACKOFF_MINUTES[min(errand.attempts, len(BACKOFF_MINUTES) - 1)]
            return replace(
                errand,
                attempts=errand.attempts + 1,
                trouble=str(error),
                not_before_ms=self._not_quiet_ms(errand.channel, errand.notice.job, self._clock.now_ms() + wait_ms),
            )
        log.info("notice %d delivered to %s", errand.notice.id, errand.channel)
        return replace(errand, attempts=errand.attempts + 1, trouble=None, delivered_ms=self._clock.now_ms())

    def _hand_over(self, errand: Errand) -> None:
        notifier = self._notifiers.get(errand.channel)
        if notifier is None:
            raise NotifyError(f"{errand.channel}: the garden file names no such [[notify]] any more")
        title, text = self._said(errand.notice)
        title = f"Still due: {title}" if errand.reminders and errand.notice.cleared_ms is None else title
        notifier.tell(title, "\n".join([text, *self._linked(errand.notice)]))

    def _said(self, notice: Notice) -> tuple[str, str]:
        """Title and text as they are true at the moment of handing over.

        A notice that was held and has meanwhile been answered is still told, as answered: silence
        would hide that the bed was dry that night, the old words would send the grower to a wet bed.
        """
        now_ms = self._clock.now_ms()
        raised = self._voice.when(notice.raised_ms, now_ms)
        if notice.cleared_ms is not None:
            answered = self._voice.when(notice.cleared_ms, now_ms)
            return f"No longer due: {notice.title}", f"Answered {answered}; nothing is left to do. Said {raised}: {notice.text}"
        if now_ms - notice.raised_ms > LATE_MS:
            return notice.title, f"Said {raised}: {notice.text}"
        return notice.title, notice.text

    def _linked(self, notice: Notice) -> list[str]:
        """The lines under a message that lead to its page and answer it."""
        if self._links is None:
            return []
        bed = self._garden.bed(notice.bed_id)
        if bed is None or not notice.title.startswith(f"{bed.name}:"):  # of the collector itself, or of several beds
            alarm = notice.bed_id in ALARMS
            return ["", f"See the notices: {self._links.notices}" if alarm else f"See what is due: {self._links.today}"]
        answer = self._links.answer(notice.id, self._clock.now_ms(), secrets.token_hex(NONCE_BYTES))
        answers = [f"Say that it is done, or can wait: {answer}"] if notice.cleared_ms is None else []
        return ["", *answers, f"See the bed: {self._links.bed(notice.bed_id)}"]

    def _channels_for(self, notice: Notice) -> list[str]:
        """The phones that a notice goes to. One of no bed stands in no summary, so that it goes to all."""
        waits = notice.job not in AT_ONCE and self._garden.bed(notice.bed_id) is not None
        return [channel for channel in self._notifiers if not (waits and channel in self._summary_only)]

    def _not_quiet_ms(self, channel: str, job: Job, at_ms: int) -> int:
        at_once = job is Job.STAKE and channel in self._dug_up_at_once
        span = None if at_once else self._quiet.get(channel)
        return at_ms if span is None else end_of_quiet_ms(at_ms, *span, self._voice.timezone)


def _sentence(title: str) -> str:
    return title if title.endswith(("?", ".", "!")) else f"{title}."


def end_of_quiet_ms(at_ms: int, quiet_from: dt.time, quiet_to: dt.time, timezone: dt.tzinfo) -> int:
    """The first moment from `at_ms` on that is not quiet [ms since 1970-01-01 UTC].

    The span runs by the local clock, across midnight where it begins later than it ends; with
    both alike it is empty. A local end that the clock skips counts as the moment it skips to;
    one that comes twice counts where it comes next.
    """
    local = dt.datetime.fromtimestamp(at_ms / 1000, tz=timezone)
    time = local.time()
    begun, not_over = time >= quiet_from, time < quiet_to
    if not ((begun and not_over) if quiet_from <= quiet_to else (begun or not_over)):
        return at_ms
    day = local.date() if time < quiet_to else local.date() + dt.timedelta(days=1)
    first, second = (dt.datetime.combine(day, quiet_to.replace(fold=fold), timezone).timestamp() for fold in (0, 1))
    return round(1000 * (first if first * 1000 > at_ms else second))
