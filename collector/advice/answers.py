"""How a call is answered: from a page, or from the phone by the signed link of its message, done or to wait.

The link is all the authority there is: it is checked before anything is worked out, it answers its own notice alone,
and what it answers is written in the same transaction that uses it up.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from collector.advice import links
from collector.advice.rounds import Rounds
from collector.advice.voice import Voice, voice_of
from collector.advice.wording import WordedCall, word
from collector.calls import Call, Due, Job, Notice, Used
from collector.errors import LinkError
from collector.journal import DEED_OF, Entry
from collector.model import Bed, Garden
from collector.ports import AnsweredSeason, Clock

# What a grower wants to hear no more of today may be told again from this hour on tomorrow.
SNOOZE_UNTIL = dt.time(5)
NOTE = "Answered by the link in a message."


class Answer(StrEnum):
    """What a link may say."""

    DONE = "done"
    TOMORROW = "not again today"
    IN_THREE_DAYS = "not for three days"


SNOOZE_DAYS = {Answer.TOMORROW: 1, Answer.IN_THREE_DAYS: 3}


@dataclass(frozen=True, slots=True)
class Asked:
    """A notice that a link leads to. `call` is what it asks as things are now, None where that is no longer due.

    `may` are the answers that the link may give; where the call `opens` a form of the journal, "done" is not among them.
    """

    notice: Notice
    bed: Bed
    told: str  # when, in words
    call: WordedCall | None
    may: tuple[Answer, ...]


class Answers:
    """Answers the notices of one garden by link. Any thread may ask; what the stores raise is raised on."""

    def __init__(self, garden: Garden, season: AnsweredSeason, rounds: Rounds, clock: Clock) -> None:
        """It opens nothing: the store is the caller's to close."""
        self._garden = garden
        self._season = season
        self._rounds = rounds
        self._clock = clock
        self._voice = voice_of(garden)

    def asked(self, token: str) -> Asked:
        """What a link leads to; nothing is changed by asking. Raises LinkError for one that may not be used."""
        now_ms = self._clock.now_ms()
        return self._asked(self._ticket(token, now_ms), now_ms)

    def give(self, token: str, answer: Answer) -> str:
        """Answer with a link and use it up; says what was written down. Raises LinkError where it may not be used so."""
        now_ms = self._clock.now_ms()
        ticket = self._ticket(token, now_ms)
        asked = self._asked(ticket, now_ms)
        if answer not in asked.may or asked.call is None:
            raise LinkError("This is no longer asked for, so nothing was written down.")
        done, until_ms = None, None
        if answer is Answer.DONE:
            done = entry_of(asked.call.call, now_ms, NOTE)
        else:
            until_ms = snoozed_until_ms(now_ms, SNOOZE_DAYS[answer], self._voice)
        used = Used(now_ms, answer)
        if not self._season.use(ticket.nonce, ticket.notice_id, used, done=done, snoozed_ms=until_ms):
            raise self._used(self._season.used(ticket.nonce) or used, now_ms)
        if until_ms is None:
            return f"Written down as done, {self._voice.when(now_ms, now_ms)}."
        return f"You are not told again before {self._voice.when(until_ms, now_ms)}, unless it becomes more pressing."

    def _ticket(self, token: str, now_ms: int) -> links.Ticket:
        ticket = links.read(self._season.link_key(), token, now_ms)
        if (used := self._season.used(ticket.nonce)) is not None:
            raise self._used(used, now_ms)
        return ticket

    def _used(self, used: Used, now_ms: int) -> LinkError:
        when = self._voice.when(used.at_ms, now_ms)
        return LinkError(f"This link was used {when}, to say “{used.answer}”. It works once; answer anew on the page of the bed.")

    def _asked(self, ticket: links.Ticket, now_ms: int) -> Asked:
        notice = self._season.notice(ticket.notice_id)
        bed = None if notice is None else self._garden.bed(notice.bed_id)
        if notice is None or bed is None:
            raise LinkError("What this link is about is no longer in the garden file.")
        told = self._voice.when(notice.raised_ms, now_ms)
        (here,) = self._rounds.go([bed], now_ms)
        call = next((one for one in here.calls if one.job is notice.job), None)
        if notice.cleared_ms is not None or call is None or call.due in (Due.FINE, Due.DONE):
            return Asked(notice, bed, told, None, ())
        worded = word(call, here.state, self._voice)
        tap = (Answer.DONE,) if worded.button is not None and worded.opens is None else ()
        return Asked(notice, bed, told, worded, (*tap, *SNOOZE_DAYS))


def entry_of(call: Call, at_ms: int, note: str = "") -> Entry:
    """The entry of the journal that says a call is answered: a watering is one of what the call asks for now."""
    litres = litres_asked([call]) if call.job is Job.WATER else None
    return Entry(call.bed_id, DEED_OF[call.job], at_ms, at_ms, amounts={} if litres is None else {"litres": litres}, note=note)


def litres_asked(calls: Sequence[Call]) -> float | None:
    """The watering [L] that calls ask for now; None where none does.

    Ahead of time a call names what will be lacking by then; what is given now is what is lacking now.
    """
    numbers = next((call.numbers for call in calls if call.job is Job.WATER), {})
    return numbers.get("litres_now", numbers.get("litres"))


def snoozed_until_ms(now_ms: int, days: int, voice: Voice) -> int:
    """The morning, so many days from now, until which a notice waits [ms since 1970-01-01 UTC]."""
    day = voice.local(now_ms).date() + dt.timedelta(days=days)
    return round(1000 * dt.datetime.combine(day, SNOOZE_UNTIL, voice.timezone).timestamp())
