"""What each job is called, asked and explained with, by job. Pure; `wording` puts the parts together."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from collector.advice.hose_words import hose_words
from collector.advice.look_words import look_words
from collector.advice.probe_words import probe_words
from collector.advice.season import count, cure, dry, feed, lift, mildew, no_feed, plant, rot, rust, scapes, store, unshade
from collector.advice.shade_words import shade_in_brief, shade_words
from collector.advice.stake_words import stake_words
from collector.advice.state import BedState
from collector.advice.voice import Voice
from collector.advice.water_words import water_in_brief, water_words
from collector.advice.words import Words
from collector.calls import Call, Job

JOB_WORDS: Mapping[Job, Callable[[Call, BedState, Voice], Words]] = {
    Job.SHADE: shade_words,
    Job.WATER: water_words,
    Job.LOOK: look_words,
    Job.HOSE: hose_words,
    Job.STAKE: stake_words,
    Job.PROBE: probe_words,
    Job.UNSHADE: unshade.words,
    Job.DRY: dry.words,
    Job.PLANT: plant.words,
    Job.COUNT: count.words,
    Job.FEED: feed.words,
    Job.NO_FEED: no_feed.words,
    Job.SCAPES: scapes.words,
    Job.RUST: rust.words,
    Job.MILDEW: mildew.words,
    Job.ROT: rot.words,
    Job.LIFT: lift.words,
    Job.CURE: cure.words,
    Job.STORE: store.words,
}


def brief(call: Call, state: BedState, voice: Voice) -> str | None:
    """One sentence on why a job is not asked for; None where there is nothing to say."""
    match call.job:
        case Job.SHADE:
            return shade_in_brief(call, state, voice)
        case Job.WATER:
            return water_in_brief(call, state, voice)
        case Job.RUST | Job.MILDEW if call.reason == "not to be seen yet":
            first = voice.day(round(call.numbers.get("shows_ms", call.numbers.get("first_ms", state.now_ms))), state.now_ms)
            return f"{'Rust' if call.job is Job.RUST else 'Downy mildew'} had its weather: look at the leaves from {first} on."
        case _:
            return None
