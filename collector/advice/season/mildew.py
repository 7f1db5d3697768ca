"""Weather for downy mildew: when to look at the leaves. Pure."""

from __future__ import annotations

from collector.advice.season.gates import at_stage
from collector.advice.season.rust import LEAFY, not_known_words, worth_a_message
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.disease import Fit

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "Hildebrand & Sutton 1982, Phytopathology 72:219-224 (abstract): spores form in air of 95 % humidity or more from 02:00 to "
    "dawn after a day below 23 to 24 °C; shows after 10 to 16 days. UC IPM for heat that stops them. Damp hours stand in for wet "
    "leaves, which no probe here feels (weak)."
)
DONE_LASTS_MS = DAY_MS


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is it time to look for downy mildew; `latched` changes nothing: a look ends it.

    Source: see SOURCE.
    """
    del latched
    season = state.season
    if season is None or not at_stage(season, *LEAFY):
        return Verdict(Due.FINE, "no leaves")
    mildew, inspected_ms = season.trouble.mildew, season.trouble.inspected_ms
    if mildew is None:
        return Verdict(Due.NOT_KNOWN, "no probe")
    if mildew.fit is Fit.NOT_KNOWN:
        return Verdict(Due.NOT_KNOWN, "gaps")
    if mildew.fit is Fit.PERHAPS and worth_a_message(inspected_ms, state.now_ms):
        perhaps = sum(night.fit is Fit.PERHAPS for night in mildew.nights)
        return Verdict(Due.SOON, "perhaps", {"nights": float(perhaps)}, evidence=Evidence.WEAK)
    if mildew.fit is not Fit.YES or mildew.shows is None:
        return Verdict(Due.FINE, "looked" if mildew.fit is Fit.PERHAPS else "not its weather")
    first_ms, last_ms = mildew.shows
    nights = sum(night.fit is Fit.YES for night in mildew.nights)
    numbers = {"nights": float(nights), "first_ms": float(first_ms), "last_ms": float(last_ms)}
    if inspected_ms is not None and inspected_ms >= first_ms:
        return Verdict(Due.FINE, "looked", numbers)
    if state.now_ms < first_ms:
        return Verdict(Due.FINE, "not to be seen yet", numbers)
    return Verdict(
        Due.SOON,
        "its weather",
        numbers,
        tell=worth_a_message(inspected_ms, state.now_ms),
        evidence=season.method.mildew.humid_pct.evidence,
    )


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    if call.due is Due.NOT_KNOWN:
        return not_known_words("Downy mildew", "air and humidity", state.bed.clove_depth_m or 0.0, above_ground=True)
    numbers = call.numbers
    first, last = (voice.day(round(numbers[name]), state.now_ms) if name in numbers else "" for name in ("first_ms", "last_ms"))
    return Words(
        heading="Look for downy mildew",
        sentence=(
            "Perhaps: nights came near to what it likes, and how wet the leaves were is not measured. A look at them settles it."
            if call.reason == "perhaps"
            else f"Nights and mornings suited it; pale patches with a grey-violet down could show from {first} to {last}. "
            "That it was its weather does not say that it is there."
        ),
        button="Looked",
        done="You have looked.",
        why=(
            f"Nights on which spores could form: {numbers.get('nights', 0.0):.0f} of the last fortnight.",
            "Wet leaves are not measured; damp air stands in for them.",
        ),
        rule="A look is asked for when a night of spores was followed by damp hours, from the day on which it could show.",
        would_change=(
            "A look ends it until the next such weather has had its days. What to do against it: label and local advice."
        ),
        above_ground=True,
        depth_m=state.bed.clove_depth_m or 0.0,
    )
