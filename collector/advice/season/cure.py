"""How the cure goes, after the lift: too hot, too damp, or done. Pure."""

from __future__ import annotations

from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.curing import Cured
from collector.journal import Deed

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "UNH Extension 2017: cure in shade and moving air, not above 90 °F (32 °C). Kansas extension column: hung for 4 to 6 weeks. "
    "By warmth, 27 to 32 °C and 60 to 70 % humidity for 10 to 14 days: from memory. Against the heat limit: in a Japanese trial "
    "days of 34 °C with unheated nights beat 33 °C without pause (Horticultural Research 13(2):169, abstract)."
)
DONE_LASTS_MS = 3 * DAY_MS
# So many hours too hot, or too damp, within the last day are worth a look, and half as many keep it: nights are damp anywhere,
# and a day that dries is enough. Common practice, no source.
HOT_H, DAMP_H = 4.0, 12.0
# Of a day of which more than so much is not known nobody can say that it was well. Common practice, no source.
UNHEARD_H = 12.0


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Does the cure want seeing to; `latched` is what it was when told.

    Source: see SOURCE.
    """
    after = state.season.after if state.season else None
    if after is None or after.cured is not None or after.stored is not None:
        return Verdict(Due.FINE, "nothing cures")
    limits = state.season.method.cure if state.season else None
    assert limits is not None
    numbers = {"hung_d": after.hung_d, "least_d": limits.hung_least_d.value, "most_d": limits.hung_most_d.value}
    cure, lately = after.cure, after.lately
    if cure is None or lately is None:
        if after.hung_d >= limits.hung_least_d.value:
            return Verdict(Due.DUE, "hung long enough", numbers, tell=True, evidence=limits.hung_least_d.evidence)
        return Verdict(Due.NOT_KNOWN, "no probe", numbers)
    numbers |= {
        "hot_h": cure.hot_h,
        "damp_h": cure.damp_h,
        "warm_h": cure.warm_h,
        "gap_h": cure.gap_h,
        "lately_hot_h": lately.hot_h,
        "lately_damp_h": lately.damp_h,
        "lately_gap_h": lately.gap_h,
        "hot_c": limits.hot_c.value,
        "damp_pct": limits.damp_pct.value,
    }
    if cure.cured is not Cured.NOT_YET:
        reason = "hung long enough" if cure.cured is Cured.BY_DAYS else "warm long enough"
        return Verdict(Due.DUE, reason, numbers, tell=True)
    keeps = 0.5 if latched else 1.0
    if lately.hot_h >= keeps * HOT_H:
        return Verdict(Due.SOON, "too hot", numbers, tell=True, evidence=limits.hot_c.evidence)
    if lately.damp_h >= keeps * DAMP_H:
        return Verdict(Due.SOON, "too damp", numbers, tell=True, evidence=limits.damp_pct.evidence)
    if lately.gap_h > UNHEARD_H:
        return Verdict(Due.NOT_KNOWN, "unheard", numbers)
    return Verdict(Due.FINE, "hangs", numbers)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    del state
    numbers = call.numbers
    days = round(numbers.get("hung_d", 0.0))
    heading = "Give the bulbs air"
    match call.reason:
        case "unheard":
            heading = "The cure: not known"
            sentence = (
                f"Of the last 24 hours {numbers['lately_gap_h']:.0f} were not heard from where the bulbs hang. "
                "Battery, cable, or out of reach?"
            )
        case "too hot":
            hot = voice.temperature(numbers["hot_c"])
            sentence = (
                f"Where they hang it was above {hot} for {numbers['lately_hot_h']:.0f} of the last 24 hours: "
                "open it, or shade it."
            )
        case "too damp":
            sentence = (
                f"Where they hang the air was damper than {numbers['damp_pct']:.0f} % "
                f"for {numbers['lately_damp_h']:.0f} of the last 24 hours: they mould before they dry. "
                "Move the air, or spread them."
            )
        case "warm long enough":
            heading = "See whether the bulbs are cured"
            sentence = (
                f"They had {numbers['warm_h'] / 24.0:.0f} days of warm dry air. Necks dry, wrappers rustle? "
                "Then trim and store them."
            )
        case _:
            heading = "See whether the bulbs are cured"
            sentence = f"They hang for {days} days. Necks dry, wrappers rustle? Then trim and store them."
    why = (
        [f"Lifted {days} days ago; hung bulbs take {numbers['least_d']:.0f} to {numbers['most_d']:.0f}."]
        if "least_d" in numbers
        else []
    )
    if "hot_h" in numbers:
        why.append(
            f"Since the lift {numbers['hot_h']:.0f} hours too hot, {numbers['damp_h']:.0f} too damp, "
            f"{numbers['warm_h']:.0f} warm and dry; "
            f"of {numbers['gap_h']:.0f} nothing is known."
        )
    return Words(
        heading=heading,
        sentence=sentence,
        button={Due.NOT_KNOWN: None, Due.DUE: "They are cured"}.get(call.due, "Looked at them"),
        done="You looked at the bulbs.",
        why=tuple(why),
        rule=(
            "Cured by days hung, or by days of warm dry air where a probe hangs beside them. Dry necks decide, not these numbers."
        ),
        would_change="Note them as cured, or stored, and this call ends.",
        above_ground=True,
        depth_m=0.0,
        opens=Deed.CURED if call.due is Due.DUE else None,
    )
