"""Where the cured bulbs go: what the sources say of stores, and the caution that goes with garlic. Pure."""

from __future__ import annotations

from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.cautions import GARLIC_IN_OIL
from collector.crop.curing import SPROUT_HIGH_C, SPROUT_LOW_C, STORES, StoreRange

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "UC Davis Postharvest, Garlic: -1 to 0 °C and 60 to 70 % humidity, more than 9 months; 20 to 30 °C below 75 %, 1 to 2 "
    "months; sprouts fastest at 5 to 18 °C. USDA Agricultural Handbook 66: 0 °C, 65 to 70 %, 6 to 7 months."
)
DONE_LASTS_MS = 365 * DAY_MS


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Are cured bulbs to be stored; `latched` changes nothing.

    Source: see SOURCE.
    """
    del latched
    after = state.season.after if state.season else None
    if after is None or after.cured is None or after.stored is not None:
        return Verdict(Due.FINE, "nothing to store")
    numbers = {} if after.store is None else {"sprouts": float(after.store.sprouts)}
    return Verdict(Due.DUE, "cured", numbers, tell=True)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    del state
    sprouts = ""
    if call.numbers.get("sprouts"):
        low, high = voice.temperature(SPROUT_LOW_C.value), voice.temperature(SPROUT_HIGH_C.value)
        sprouts = f" Where they hang now it is between {low} and {high}, where garlic sprouts fastest."
    return Words(
        heading="Store the bulbs",
        sentence=f"Cold and dry keeps them for months, a room for weeks; in between they sprout.{sprouts}",
        button="Stored",
        done="They are stored.",
        why=tuple(_range(one, voice) for one in STORES),
        rule=(
            "Asked for once you have noted the bulbs as cured. Cloves for "
            "planting want another place: about 10 °C, not below 4 °C."
        ),
        would_change="Note them as stored, and this call ends.",
        above_ground=True,
        depth_m=0.0,
        caution=GARLIC_IN_OIL.text,
    )


def _range(one: StoreRange, voice: Voice) -> str:
    months = f"more than {one.least_months:g}" if one.most_months is None else f"{one.least_months:g} to {one.most_months:g}"
    low, high = voice.temperature(one.low_c), voice.temperature(one.high_c)
    span = low if low == high else f"{low} to {high}"
    return f"At {span} and no more than {one.damp_pct:.0f} % humidity: {months} months ({one.source.partition(':')[0]})."
