"""Calls in the grower's words: what, where, by when, why, in that order and to one person. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from collector.advice.job_words import JOB_WORDS, brief
from collector.advice.state import BedState
from collector.advice.voice import Voice
from collector.calls import Call, Due, Job
from collector.journal import Deed


@dataclass(frozen=True, slots=True)
class WordedCall:
    """A call in the grower's words and units, ready to be written on a page.

    `flag` is when ("Due today"), `heading` verb, thing and amount ("Water 68 litres"),
    `sentence` what happens otherwise, `button` what to tap when it is done ("Watered"; None
    where nothing can be said done). `why` holds the numbers, one sentence each; `rule`,
    `evidence`, `source` and `would_change` stand under it. `above_ground` tells on which side
    of the cut it is written, and `depth_m` where its stem ends. `opens` is the form of the journal
    that the button opens; None where a tap says it all.
    """

    call: Call
    flag: str
    heading: str
    sentence: str
    button: str | None
    why: tuple[str, ...]
    rule: str
    evidence: str
    source: str
    would_change: str
    above_ground: bool
    depth_m: float
    caution: str | None = None
    opens: Deed | None = None


def word(call: Call, state: BedState, voice: Voice) -> WordedCall:
    """A call about the bed of `state` in words."""
    words = JOB_WORDS[call.job](call, state, voice)
    done = call.due is Due.DONE
    return WordedCall(
        call=call,
        flag=_flag(call, state.now_ms, voice),
        heading=words.heading,
        sentence=words.done if done else words.sentence,
        button=None if done else words.button,
        why=words.why,
        rule=words.rule,
        evidence=call.evidence.value,
        source=call.source,
        would_change=words.would_change,
        above_ground=words.above_ground,
        depth_m=words.depth_m,
        caution=None if done else words.caution,
        opens=None if done else words.opens,
    )


def message(worded: WordedCall, state: BedState) -> tuple[str, str]:
    """Title and text of the phone message for a call: bed, what, number, limit."""
    heading = worded.heading[0].lower() + worded.heading[1:]
    parts = (worded.sentence, worded.caution)
    return f"{state.bed.name}: {heading}", " ".join(part for part in parts if part)


def worth_showing(calls: Sequence[Call]) -> tuple[Call, ...]:
    """The calls that a page writes above and below the cut, the most pressing first.

    Fine ones are left out; so is what is not known for want of a probe that the garden never
    had, and what a call to look at the stake, or to push it back in, already says.
    """
    looked_at = any((call.job, call.due) in ((Job.LOOK, Due.NOT_KNOWN), (Job.STAKE, Due.DUE)) for call in calls)
    kept = [
        call
        for call in calls
        if call.due is not Due.FINE and call.reason != "no probe" and not (looked_at and _told_by_look(call))
    ]
    return tuple(sorted(kept, key=lambda call: (_small(call), PRESSING.index(call.due))))


# The most pressing first.
PRESSING = (Due.DUE, Due.NOT_KNOWN, Due.SOON, Due.DONE, Due.FINE)


# A bed that only wants a look at its leaves is fine for all that.
NUDGES = (Job.COUNT, Job.RUST, Job.MILDEW, Job.ROT)


def _small(call: Call) -> bool:
    """True where it is only not known whether a look is wanted: nothing that stands before a job."""
    return call.job in NUDGES and call.due is Due.NOT_KNOWN


def _told_by_look(call: Call) -> bool:
    return (
        call.job is not Job.LOOK
        and call.due is Due.NOT_KNOWN
        and call.reason in ("silent", "near ones silent", "never heard", "too short")
    )


def fine_sentence(calls: Sequence[Call], state: BedState, voice: Voice) -> str | None:
    """The sentence for a bed that asks for nothing, with the numbers; None if it asks for something."""
    asks = [
        call for call in calls if call.due not in (Due.FINE, Due.DONE) and call.reason != "no probe" and call.job not in NUDGES
    ]
    if asks:
        return None
    if not any(probe.depth_m is not None for probe in state.bed.probes):
        return "Not measured. The garden file names no probe in the soil of this bed."
    briefs = [one for call in calls if call.due is not Due.DONE and (one := brief(call, state, voice))]
    warm = any(call.reason == "cloth lies" and call.numbers["mean_c"] > call.numbers["limit_c"] for call in calls)
    return " ".join(["Warm under the cloth." if warm else "Fine.", *(briefs or ["Nothing else is asked of you."])])


def cool_line(state: BedState, voice: Voice) -> str | None:
    """Where the soil is under the grower's limit: "cool below 7 cm"; None where limit or temperatures are not known."""
    limit_c, profile = state.bed.cool_limit_c, state.temperature
    if limit_c is None or profile is None:
        return None
    crossings_m = profile.crossings(limit_c)
    cool_at_depth = profile.values[-1] <= limit_c
    if len(profile.depths_m) == 1:  # one thermometer tells of its own depth and no more
        return f"{'cool' if cool_at_depth else 'warm'} at {voice.depth(profile.depths_m[0])}"
    if not crossings_m and cool_at_depth and profile.at(0.0) is None:  # what lies above is not known: warmth begins there
        known_m = (cm / 100 for cm in range(round(100 * profile.depths_m[0]) + 1) if profile.at(cm / 100) is not None)
        return f"cool from {voice.depth(next(known_m, profile.depths_m[0]))} down"
    if not crossings_m:
        return "cool all the way down" if cool_at_depth else f"warm to {voice.depth(profile.depths_m[-1])} and below"
    return f"{'cool' if cool_at_depth else 'warm'} below {voice.depth(crossings_m[-1])}"


# ---------------------------------------------------------------- flags


def _flag(call: Call, now_ms: int, voice: Voice) -> str:
    match call.due:
        case Due.DONE:
            return f"Done {_at(call.since_ms, now_ms, voice)}"
        case Due.SOON if "by_ms" in call.numbers:
            by_ms = round(call.numbers["by_ms"])
            day = voice.day(by_ms, now_ms)
            return f"Soon: {voice.by_part_of_day(by_ms, now_ms) if day in ('today', 'tomorrow') else day}"
        case Due.SOON:
            return "Soon"
        case Due.NOT_KNOWN if call.reason.endswith("silent"):
            return f"Not known since {voice.when(call.since_ms, now_ms)}"
        case Due.NOT_KNOWN if call.reason == "never heard":
            return "Nothing heard yet"
        case Due.NOT_KNOWN if call.reason == "too short":
            return "Not known yet"
        case Due.NOT_KNOWN:
            return "Not known"
        case _:
            day = voice.day(call.since_ms, now_ms)
            return "Due today" if day == "today" else f"Due since {day}"


def _at(at_ms: int, now_ms: int, voice: Voice) -> str:
    day = voice.day(at_ms, now_ms)
    return f"at {voice.clock(at_ms)}" if day == "today" else f"{day} at {voice.clock(at_ms)}"
