"""Weather for garlic rust: when to look at the leaves. Pure."""

from __future__ import annotations

from collector.advice.season.gates import at_stage
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.disease import Fit
from collector.crop.observed import Stage

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "Cornell vegetable pathology, garlic rust: infects at 5 to 25 °C in air of 97 % humidity or more for 4 hours, "
    "pustules 9 days "
    "later or more. Field advice of another page: above 15 °C and 70 % (weak); the two do not agree."
)
DONE_LASTS_MS = DAY_MS
# A look keeps the phone still for so long. Common practice, no source.
LOOKED_LATELY_MS = 21 * DAY_MS
# What began to show since a look is looked for again after so long: in a wet week something begins each day. Common practice,
# no source.
LOOK_HOLDS_MS = 5 * DAY_MS
LEAFY = (Stage.SPROUTED, Stage.LEAVES, Stage.BULBING, Stage.RIPENING)


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is it time to look for rust; `latched` changes nothing: a look ends it.

    Source: see SOURCE. Pustules cannot be seen before they show, so a look earlier than that does not count.
    """
    del latched
    season = state.season
    if season is None or not at_stage(season, *LEAFY):
        return Verdict(Due.FINE, "no leaves")
    rust, inspected_ms = season.trouble.rust, season.trouble.inspected_ms
    if rust is None:
        return Verdict(Due.NOT_KNOWN, "no probe")
    if rust.fit is Fit.NOT_KNOWN:
        return Verdict(Due.NOT_KNOWN, "gaps", {"gap_h": rust.gap_h})
    numbers = {
        "infections": float(rust.infections),
        "longest_h": rust.longest_run_h,
        "field_h": rust.field_run_h,
        "humid_pct": season.method.rust.humid_pct.value,
        "run_h": season.method.rust.run_h.value,
    }
    if rust.fit is Fit.PERHAPS and worth_a_message(inspected_ms, state.now_ms):
        return Verdict(Due.SOON, "perhaps", numbers, evidence=season.method.rust.field_humid_pct.evidence)
    if rust.fit is not Fit.YES:
        return Verdict(Due.FINE, "looked" if rust.fit is Fit.PERHAPS else "not its weather", numbers)
    if inspected_ms is not None and state.now_ms - inspected_ms < LOOK_HOLDS_MS and inspected_ms >= min(rust.shows_ms):
        return Verdict(Due.FINE, "looked", numbers)
    pending_ms = [shows_ms for shows_ms in rust.shows_ms if inspected_ms is None or shows_ms > inspected_ms]
    if not pending_ms:
        return Verdict(Due.FINE, "looked", numbers)
    numbers["shows_ms"] = float(pending_ms[0])
    if state.now_ms < pending_ms[0]:
        return Verdict(Due.FINE, "not to be seen yet", numbers)
    evidence = season.method.rust.humid_pct.evidence
    return Verdict(Due.SOON, "its weather", numbers, tell=worth_a_message(inspected_ms, state.now_ms), evidence=evidence)


def not_known_words(disease: str, where: str, depth_m: float, *, above_ground: bool) -> Words:
    """What a call for a disease says where gaps in the readings could hide its weather."""
    return Words(
        heading=f"{disease}: not known",
        sentence=f"Too little was heard of {where} in the last days: the gaps could hide what {disease.lower()} likes.",
        button=None,
        done="",
        why=("What a gap may hide is not taken for safe.",),
        rule="Its weather is told where the readings have no gap long enough to hide it.",
        would_change="Readings without long gaps would tell, and so would a look at the plants.",
        above_ground=above_ground,
        depth_m=depth_m,
    )


def worth_a_message(inspected_ms: int | None, now_ms: int) -> bool:
    """True where nobody looked for disease for weeks: in a damp spring its weather comes again and again, as the page says."""
    return inspected_ms is None or now_ms - inspected_ms > LOOKED_LATELY_MS


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    if call.due is Due.NOT_KNOWN:
        return not_known_words("Rust", "air and humidity", state.bed.clove_depth_m or 0.0, above_ground=True)
    numbers = call.numbers
    first = voice.day(round(numbers["shows_ms"]), state.now_ms) if "shows_ms" in numbers else ""
    run = f"{numbers.get('run_h', 4.0):g} hours of {numbers.get('humid_pct', 97.0):.0f} %"
    return Words(
        heading="Look for rust",
        sentence=(
            f"Perhaps. By one page's advice, air of 70 % and above 15 °C, rust had {numbers['field_h']:.0f} hours of its weather "
            f"without pause; by another's, {run}, none. A look at the leaves settles it."
            if call.reason == "perhaps"
            else f"The weather suited rust {numbers.get('infections', 0.0):.0f} times in the last 16 days; "
            "pustules, orange and raised, could "
            f"show since {first}. That it was its weather does not say that it is there."
        ),
        button="Looked",
        done="You have looked.",
        why=(
            f"Longest run at {numbers.get('humid_pct', 97.0):.0f} % humidity or more in mild air: "
            f"{numbers.get('longest_h', 0.0):.0f} hours; "
            f"{numbers.get('run_h', 4.0):g} infect (Cornell).",
            "By the field advice of another page, 70 % and above 15 °C: "
            f"{numbers.get('field_h', 0.0):.0f} hours. The two do not agree.",
            "A cheap humidity probe errs by some percent just where the limit lies.",
        ),
        rule="A look is asked for when the weather suited an infection, from the day on which it could show.",
        would_change=(
            "A look ends it until the next such weather has had its days. What to do against rust: label and local advice."
        ),
        above_ground=True,
        depth_m=state.bed.clove_depth_m or 0.0,
    )
