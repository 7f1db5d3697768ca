"""One step of a rule: memory and what is known in, memory and a call out. Pure.

Told once per crossing: a job that is told stays told, through gaps and small recoveries,
until the bed has recovered past the rule's slack, or the grower's "done" has run out and it
is due again; and what was told to be soon is told once more when it is due. What only a
forecast says is not told again within half a day of its taking that back. Being told is
what latches a job; `Memory.told_ms` is that latch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from collector.advice import hose, probe, shade, silence, stake, water
from collector.advice.season import count, cure, dry, feed, lift, mildew, no_feed, plant, rot, rust, scapes, store, unshade
from collector.advice.state import DAY_MS, HOUR_MS, MINUTE_MS, BedState
from collector.advice.verdict import Verdict
from collector.calls import Call, DoneMark, Due, Evidence, Job, Memory

# For this long after a tap on "done" it is shown as done, and may be taken back.
UNDO_MS = 10 * MINUTE_MS


@dataclass(frozen=True, slots=True)
class Rule:
    """How a job is judged, how well that is founded, and how long the grower's "done" is taken for an answer [ms].

    `judge` is asked what is due in a state, and told how pressing the job was when it was last told; None if it
    was not, or the bed has recovered since.
    """

    judge: Callable[[BedState, Due | None], Verdict]
    evidence: Evidence
    source: str
    done_lasts_ms: int


# A mean over 24 h needs a day to feel the cloth and another for the warmth already in the soil to
# drain; water reaches the probes within hours. Common practice, no source.
RULES: Mapping[Job, Rule] = {
    Job.SHADE: Rule(shade.judge, shade.EVIDENCE, shade.SOURCE, done_lasts_ms=3 * DAY_MS),
    Job.WATER: Rule(water.judge, water.EVIDENCE, water.SOURCE, done_lasts_ms=DAY_MS),
    Job.LOOK: Rule(silence.judge, silence.EVIDENCE, silence.SOURCE, done_lasts_ms=DAY_MS),
    Job.HOSE: Rule(hose.judge, hose.EVIDENCE, hose.SOURCE, done_lasts_ms=hose.STANDS_MS),
    # a stake pushed back in is seen to be so after three hours; a probe that was mended, after two days
    Job.STAKE: Rule(stake.judge, stake.EVIDENCE, stake.SOURCE, done_lasts_ms=6 * HOUR_MS),
    Job.PROBE: Rule(probe.judge, probe.EVIDENCE, probe.SOURCE, done_lasts_ms=3 * DAY_MS),
    **{
        job: Rule(each.judge, each.EVIDENCE, each.SOURCE, each.DONE_LASTS_MS)
        for job, each in {
            Job.UNSHADE: unshade,
            Job.DRY: dry,
            Job.PLANT: plant,
            Job.COUNT: count,
            Job.FEED: feed,
            Job.NO_FEED: no_feed,
            Job.SCAPES: scapes,
            Job.RUST: rust,
            Job.MILDEW: mildew,
            Job.ROT: rot,
            Job.LIFT: lift,
            Job.CURE: cure,
            Job.STORE: store,
        }.items()
    },
}
# What was told to be soon is told again when it is due, but not within this: forecasts waver. Common practice, no source.
TOLD_AGAIN_MS = 12 * HOUR_MS
MARKS_SPAN_MS = max(rule.done_lasts_ms for rule in RULES.values())


@dataclass(frozen=True, slots=True)
class Step:
    """One rule's look at one bed: what it remembered, remembers now, and calls."""

    before: Memory
    after: Memory
    call: Call

    @property
    def newly_told(self) -> bool:
        """True where this step crossed into something worth a message."""
        return self.after.told_ms is not None and self.after.told_ms != self.before.told_ms

    @property
    def newly_cleared(self) -> bool:
        """True where what was told before is answered: the bed recovered, or the grower has done it."""
        recovered = self.after.told_ms is None or self.after.due is Due.DONE
        return self.before.told_ms is not None and self.before.due is not Due.DONE and recovered


def step(memory: Memory, state: BedState, mark_ms: int | None) -> Step:
    """One look at one job.

    Args:
        memory: what the rule remembers of the job in this bed.
        state: the bed now.
        mark_ms: when the grower last said it is done, and did not take it back [ms], as `newest_mark` answers.
    """
    rule, now_ms = RULES[memory.job], state.now_ms
    told_ms, told, done_ms = memory.told_ms, memory.told if memory.told_ms is not None else None, memory.done_ms
    # What is due by now stays due by the same slack, though it was told as soon only.
    latched = Due.DUE if told is not None and memory.due is Due.DUE else told
    verdict, recovered_ms = rule.judge(state, latched), memory.recovered_ms

    answered = mark_ms is not None and (mark_ms > (done_ms or 0) or (memory.due is Due.DONE and mark_ms == done_ms))
    if answered and mark_ms is not None and _lasts(mark_ms, verdict, rule, now_ms):
        return _step(memory, verdict, _remembers(memory, Due.DONE, told_ms, mark_ms, told, recovered_ms), now_ms)

    if answered:  # but it has run out: what is still due is due anew
        told_ms, told, done_ms = None, None, mark_ms
        verdict = rule.judge(state, None)
    if verdict.tell:
        came_due = told is Due.SOON and verdict.due is not Due.SOON
        wavers = verdict.foreseen and recovered_ms is not None and now_ms - recovered_ms < TOLD_AGAIN_MS
        if (told_ms is None and not wavers) or (told_ms is not None and came_due and now_ms - told_ms >= TOLD_AGAIN_MS):
            told_ms, told = now_ms, verdict.due
    elif verdict.due is not Due.NOT_KNOWN:  # a gap in the readings is no recovery
        recovered_ms = recovered_ms if told_ms is None else now_ms
        told_ms, told = None, None
    return _step(memory, verdict, _remembers(memory, verdict.due, told_ms, done_ms, told, recovered_ms), now_ms)


def newest_mark(marks: Iterable[DoneMark], bed_id: str, job: Job) -> int | None:
    """When the grower last said that this job is done and did not take it back [ms]; None if never."""
    standing = (mark.at_ms for mark in marks if mark.bed_id == bed_id and mark.job is job and mark.undone_ms is None)
    return max(standing, default=None)


def _lasts(mark_ms: int, verdict: Verdict, rule: Rule, now_ms: int) -> bool:
    since_ms = now_ms - mark_ms
    return since_ms < UNDO_MS or (since_ms < rule.done_lasts_ms and verdict.due is not Due.FINE)


def _remembers(
    memory: Memory, due: Due, told_ms: int | None, done_ms: int | None, told: Due | None, recovered_ms: int | None
) -> Memory:
    """What is remembered after a look, as yet without since when."""
    return Memory(memory.bed_id, memory.job, due, 0, told_ms, done_ms, told, recovered_ms)


def _step(before: Memory, verdict: Verdict, after: Memory, now_ms: int) -> Step:
    """The step to a memory that has no `since_ms` yet."""
    rule, done = RULES[after.job], after.due is Due.DONE
    began_ms = before.since_ms if before.due is after.due and before.since_ms else now_ms
    if before.due is Due.DONE and after.told_ms is not None and after.told is after.due:
        began_ms = after.told_ms  # "done" was taken back: it is due since it was told, and not since now
    since_ms = (after.done_ms if done else verdict.since_ms) or began_ms
    return Step(
        before=before,
        after=replace(after, since_ms=since_ms),
        call=Call(
            bed_id=after.bed_id,
            job=after.job,
            due=after.due,
            since_ms=since_ms,
            reason="done" if done else verdict.reason,
            numbers=dict(verdict.numbers),
            evidence=verdict.evidence or rule.evidence,
            source=verdict.source or rule.source,
            about=verdict.about,
        ),
    )
