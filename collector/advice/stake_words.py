"""What the call to push a stake back in is asked and explained with. Pure."""

from __future__ import annotations

from collector.advice.state import BedState
from collector.advice.voice import COUNTS, Voice
from collector.advice.words import Words
from collector.calls import Call
from collector.units import Quantity


def stake_words(call: Call, state: BedState, voice: Voice) -> Words:
    """The parts of the call about a stake that lies in the air."""
    depths_m = sorted({probe.depth_m for probe in state.bed.probes if probe.depth_m is not None})
    deep = f" so that its probes lie {voice.depths(depths_m)} below the soil, not below the mulch" if depths_m else ""
    return Words(
        heading="Push the stake back in",
        sentence=f"{_how_many(state)} jumped towards the air {_at(call, state, voice)}. Until it is back, nothing is known.",
        button="It is back in",
        done="The stake is back in. Its readings count again once they have been those of soil for three hours.",
        why=(
            "Soil at several depths does not leave its course by kelvins within the hour; the stake lies in the air.",
            "What its probes say since then is kept, marked as dug up, and counts neither for the cloves nor for water.",
            f"Push it in{deep}.",
        ),
        rule=(
            "The stake is taken to be out when most of its thermometers are at once farther from what the hour before let "
            f"expect than soil can be, {voice.warmer_by(1.5)} at least, and nearer to the air; and to be in again after "
            "three hours of readings that soil may have."
        ),
        would_change="Three hours of readings that soil may have end this call.",
        above_ground=False,
        depth_m=state.bed.clove_depth_m or state.bed.root_depth_m / 2,
        caution="Buried lines: look before you push.",
    )


def _how_many(state: BedState) -> str:
    count = len({probe.depth_m for probe in state.bed.probes_of(Quantity.SOIL_TEMPERATURE)})
    return "Both depths" if count == 2 else f"All {COUNTS[count].lower() if count < len(COUNTS) else count} depths"


def _at(call: Call, state: BedState, voice: Voice) -> str:
    day = voice.day(call.since_ms, state.now_ms)
    return f"at {voice.clock(call.since_ms)}" if day == "today" else f"{day} at {voice.clock(call.since_ms)}"
