"""What the call to check a failing probe is asked and explained with. Pure."""

from __future__ import annotations

from collector.advice.state import BedState
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call

# What it does, and what is likely to be wrong with it.
_HOW = {
    "drifts": ("drifts away from what the other depths tell", "Has it moved in its hole, or does water stand in its sleeve?"),
    "jumps about": ("jumps about as no soil does", "Check its plug and cable: a loose contact does this."),
    "stands still": ("says the same while the soil around it moves", "Take its power away for a moment, then check its cable."),
}


def probe_words(call: Call, state: BedState, voice: Voice) -> Words:
    """The parts of the call about a thermometer that fails, or two that have each other's place."""
    if call.reason == "swapped":
        return _swapped_words(call, voice)
    if call.reason == "battery":
        return _battery_words(call, state, voice)
    depths_m = sorted({one.probe.depth_m for one in state.failing if one.probe.depth_m is not None})
    if not depths_m and "depth_m" in call.numbers:
        depths_m = [call.numbers["depth_m"]]
    does, do = _HOW.get(call.reason, ("is not believed", "Check its plug and cable."))
    since = voice.day(call.since_ms, state.now_ms)
    return Words(
        heading=f"Check the probe{'s' if len(depths_m) > 1 else ''} at {voice.depths(depths_m)}"
        if depths_m
        else "Check the probe",
        sentence=f"It {does}, since {since}. {do} The others speak for its depth until then."
        if len(depths_m) < 2
        else f"One {does}, since {since}. {do} The others speak for these depths until then.",
        button="I have checked it",
        done="You have checked it. It is asked again after three days if it still fails.",
        why=(
            "Each thermometer is held against what the others of the bed make of its depth.",
            "Its readings are kept and marked; they count for nothing until it agrees with the others again.",
        ),
        rule=(
            f"A probe fails when for two days it alone is {voice.warmer_by(1.0)} or more from where it used to be among them, "
            "or jumps four times as much as it used to, or says one number all day while the others show that the soil moves. "
            "Days near frost do not count."
        ),
        would_change="Two days in which it agrees with the others end this call.",
        above_ground=False,
        depth_m=depths_m[0] if depths_m else state.bed.root_depth_m / 2,
    )


def _swapped_words(call: Call, voice: Voice) -> Words:
    upper_m, lower_m = call.numbers["depth_m"], call.numbers.get("other_m", call.numbers["depth_m"])
    upper, lower = voice.depth(upper_m), voice.depth(lower_m)
    return Words(
        heading=f"Are the probes at {voice.depths([upper_m, lower_m])} swapped?",
        sentence=f"The one said to be at {upper} swings less through the day, and later, than the one at {lower}. "
        "See which is which: warm one in your hand on the page of stakes. Then exchange their depths in the garden file, not "
        "their addresses: what each has said stays with it.",
        button="I have seen to it",
        done="You have seen to it. It is asked again after three days if they still look swapped.",
        why=(
            "The day's warmth goes down into the soil as a wave that grows smaller and later with depth.",
            "On each of the last two days these two were the other way round, and exchanged all depths would be in order.",
        ),
        rule="Two thermometers are asked about when on two days together the deeper one has the larger wave by an eighth, the "
        "shallower one is later by half an hour or more, and exchanging the two puts every depth in order.",
        would_change="A day in which the deeper one swings less ends this call.",
        above_ground=False,
        depth_m=upper_m,
    )


def _battery_words(call: Call, state: BedState, voice: Voice) -> Words:
    volts = call.numbers["volts"]
    return Words(
        heading="Change the battery of a stake",
        sentence=f"It said {volts:.2f} V, {voice.when(call.since_ms, state.now_ms)}, which is lower than the garden file lets it "
        "be. What its probes say ends when it does.",
        button="I have changed it",
        done="You have changed it. It is asked again after three days if it is still low.",
        why=(f"The stake's battery said {volts:.2f} V last.",),
        rule="A battery is called when it says less than the low_v of its probe in the garden file.",
        would_change="A reading above that ends this call.",
        above_ground=True,
        depth_m=0.0,
    )
