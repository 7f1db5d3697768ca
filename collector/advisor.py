"""Goes through every bed now and then: what the rules remember is saved, what is newly due becomes a notice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from collector.advice.rounds import Round, Rounds
from collector.advice.voice import voice_of
from collector.advice.wording import message, word
from collector.calls import Job, Memory, Notice
from collector.model import Garden
from collector.ports import Clock, Readings, SeasonStore

# Said of several beds in the same words these are one message: what the air invites, and what one walk sees to.
ONE_WALK = (Job.RUST, Job.MILDEW, Job.COUNT, Job.CURE, Job.STORE)


class Post(Protocol):
    """What the advisor needs of `notices`."""

    def post(
        self,
        memories: Sequence[Memory],
        raised: Sequence[Notice],
        cleared: Sequence[tuple[str, Job]],
        with_another: Sequence[Notice] = (),
    ) -> None:
        """Save memories, raise notices and clear those of the beds and jobs named, in one transaction.

        Notices `with_another` are raised and sent to no phone, for another one says the same.
        """


class Advisor:
    """Looks at the beds of one garden. One thread calls it."""

    def __init__(self, garden: Garden, readings: Readings, season: SeasonStore, notices: Post, clock: Clock) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._rounds = Rounds(garden, readings, season)
        self._notices = notices
        self._clock = clock
        self._voice = voice_of(garden)
        self.rounds: list[Round] = []  # those of the last look

    def look(self) -> None:
        """Go through every bed once. Raises what the stores raise; nothing of that look is saved, the next repeats it."""
        now_ms = self._clock.now_ms()
        rounds = self.rounds = self._rounds.go(self._garden.beds, now_ms)
        changed = [one.after for each in rounds for one in each.steps if one.after != one.before]
        if changed:  # most looks change nothing, and spare the card a write
            raised = [notice for each in rounds for notice in self._raised(each, now_ms)]
            cleared = [(one.after.bed_id, one.after.job) for each in rounds for one in each.steps if one.newly_cleared]
            told, with_another = self._told_once(raised)
            self._notices.post(changed, told, cleared, with_another)

    def _told_once(self, raised: Sequence[Notice]) -> tuple[list[Notice], list[Notice]]:
        """Of what is said of several beds in the same words one message names them all; and the notices that go without one."""
        told, with_another = [], []
        for notice in raised:
            others = [one for one in raised if one.job is notice.job and one.text == notice.text]
            if notice.job not in ONE_WALK or len(others) == 1:
                told.append(notice)
            elif notice is others[0]:
                beds = ", ".join(bed.name for one in others if (bed := self._garden.bed(one.bed_id)) is not None)
                told.append(replace(notice, title=f"{beds}:{notice.title.partition(':')[2]}"))
            else:
                with_another.append(notice)
        return told, with_another

    def _raised(self, each: Round, now_ms: int) -> list[Notice]:
        notices = []
        for one in each.steps:
            if one.newly_told:
                title, text = message(word(one.call, each.state, self._voice), each.state)
                notices.append(Notice(0, now_ms, one.call.bed_id, one.call.job, title, text))
        return notices
