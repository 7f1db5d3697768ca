"""Turn the water off: called when it has come far enough, told once for each watering, and said in the grower's words."""

from dataclasses import replace

import pytest

from collector.advice.rules import step
from collector.advice.state import WaterState
from collector.advice.wetted import Cause, Wetted
from collector.advice.wetted_words import wetted_sentence
from collector.advice.wording import message, word
from collector.calls import Due, Job, Memory
from collector.model import Cover
from collector.soil.wetting import Answer, Flow
from tests.collector.advice.test_rules import HEARD, dry, table
from tests.collector.advice.test_wording import METRIC, US
from tests.fakes import NOW_MS
from tests.fakes_advice import HOUR_MS, MINUTE_MS, bed

ONSET_MS = NOW_MS - 130 * MINUTE_MS
GOT_MS = NOW_MS - 20 * MINUTE_MS


def answer(depth_m, *, before=0.15, rise=0.10, front_ms=GOT_MS, drained=False):
    return Answer(depth_m, before, rise, front_ms, drained)


def not_there(depth_m, **more):
    return answer(depth_m, **{"rise": 0.0, "front_ms": None, **more})


def wetted(reached_m=0.20, flow=Flow.STOP, **more):
    """A watering that came to 20 cm of 30 just now, and all that a test changes of it."""
    told = {
        "onset_ms": ONSET_MS, "cause": Cause.UNTOLD, "found": (answer(0.08), answer(0.20)), "reached_ms": GOT_MS, "next_m": 0.35,
        "stop_ms": None if flow in (Flow.GO_ON, Flow.NOT_KNOWN) else GOT_MS, "off": False, "running": True, "raining": False,
        "rain_known": True, "frozen": False,
    }  # fmt: skip
    return Wetted(**{**told, "reached_m": reached_m, "flow": flow, **more})


def seen(of=None, base=HEARD, **more):
    return replace(base, wetted=of, **more)


def judged(of, **more):
    return step(Memory("terrace", Job.HOSE), seen(of, **more), None)


SHORT = wetted(0.08, Flow.GO_ON, found=(answer(0.08), not_there(0.20)), next_m=0.20)


@pytest.mark.parametrize(
    ("of", "due", "reason"),
    [
        (None, Due.FINE, "no water"),
        (SHORT, Due.FINE, "not far enough"),
        (wetted(), Due.DUE, "far enough"),
        (wetted(0.35, Flow.TOO_MUCH, next_m=None), Due.DUE, "past the roots"),
        (wetted(raining=True, cause=Cause.RAIN), Due.FINE, "rain"),
        (wetted(off=True, cause=Cause.WATERING), Due.FINE, "water is off"),
        (wetted(stop_ms=NOW_MS - 2 * HOUR_MS), Due.FINE, "long ago"),
    ],
)
def test_it_is_due_only_while_the_water_has_just_come_far_enough(of, due, reason):
    taken = judged(of)
    assert (taken.call.due, taken.call.reason, taken.newly_told) == (due, reason, due is Due.DUE)


def test_one_watering_is_told_once_though_it_goes_on_past_the_roots_and_ends_by_itself():
    memory, taken = Memory("terrace", Job.HOSE), []
    too_much = wetted(0.35, Flow.TOO_MUCH, next_m=None, stop_ms=GOT_MS)
    for minutes, of in (
        (0, SHORT),
        (0, wetted()),
        (60, wetted()),
        (150, too_much),
        (230, too_much),
        (300, too_much),
        (310, None),
    ):
        one = step(memory, seen(of, now_ms=NOW_MS + minutes * MINUTE_MS), None)
        memory = one.after
        taken.append(one)
    assert table(taken) == [
        (Due.FINE, ""), (Due.DUE, "told"), (Due.DUE, ""), (Due.DUE, ""), (Due.FINE, "cleared"), (Due.FINE, ""), (Due.FINE, ""),
    ]  # fmt: skip


def test_the_growers_tap_ends_the_call():
    memory = judged(wetted()).after
    tapped = step(memory, seen(wetted(off=True), now_ms=NOW_MS + MINUTE_MS), NOW_MS + MINUTE_MS)
    assert (tapped.call.due, tapped.newly_cleared) == (Due.DONE, True)
    later = step(tapped.after, seen(wetted(off=True), now_ms=NOW_MS + 20 * MINUTE_MS), NOW_MS + MINUTE_MS)
    assert (later.call.due, later.newly_told) == (Due.FINE, False)


def test_the_call_and_its_message_say_how_far_it_came_and_why():
    state = seen(wetted())
    worded = word(judged(wetted()).call, state, METRIC)
    assert (worded.flag, worded.heading, worded.button) == ("Due today", "Turn the water off", "Water is off")
    assert (
        worded.sentence
        == "The water reached 20 cm by 8:40; the rest of the way, to the lowest roots at 30 cm, it sinks by itself."
    )
    assert worded.why == (
        "At 8 cm the water came by 8:40, from 15 to 25 %.",
        "At 20 cm the water came by 8:40, from 15 to 25 %.",
    )
    assert "Stirzaker 2003" in worded.source
    assert message(worded, state)[0] == "Terrace bed: turn the water off"
    too_much = wetted(0.35, Flow.TOO_MUCH, next_m=None)
    assert word(judged(too_much).call, seen(too_much), METRIC).heading == "Turn the water off: it runs past the roots"


def test_without_a_rain_gauge_the_call_says_that_it_may_be_rain():
    unsure = wetted(rain_known=False)
    assert word(judged(unsure).call, seen(unsure), METRIC).sentence.endswith("If it is rain, there is nothing to do.")


# ---------------------------------------------------------------- the sentence on the bed's page

LACKING = WaterState(5.0, 36.0, 10.8, 0.30, 0.30)


@pytest.mark.parametrize(
    ("of", "sentence"),
    [
        (None, None),
        (SHORT, "Go on. The water reached 8 cm by 8:40; the roots go down to 30 cm."),
        (
            wetted(),
            "Stop now. The water reached 20 cm by 8:40; the rest of the way, to the lowest roots at 30 cm, it sinks by itself.",
        ),
        (
            wetted(0.35, Flow.TOO_MUCH, next_m=None),
            "Too much: water runs past the roots. The water reached 35 cm by 8:40; the roots go down to 30 cm.",
        ),
        (
            wetted(0.35, Flow.TOO_MUCH, next_m=None, running=False),
            "The water reached 35 cm by 8:40; the roots go down to 30 cm. That is past them: less next time.",
        ),
        (
            wetted(0.35, Flow.TOO_MUCH, next_m=None, cause=Cause.RAIN, raining=True),
            "The rain reached 35 cm by 8:40; the roots go down to 30 cm.",
        ),
        (
            replace(SHORT, running=False),
            "The water reached 8 cm by 8:40; the roots go down to 30 cm. Give 36 litres more to reach the lowest roots.",
        ),
        (
            wetted(0.15, Flow.NOT_KNOWN, next_m=None),
            "The water reached 15 cm by 8:40. How much deeper is not known: no probe speaks between 15 and 30 cm.",
        ),
        (
            wetted(0.08, Flow.STOP, found=(answer(0.08), not_there(0.20, before=0.24)), next_m=0.20, running=False),
            "The water reached 8 cm by 8:40; at 20 cm the soil was full before, and the roots go down to 30 cm.",
        ),
    ],
)
def test_how_far_it_came_is_said_against_the_roots(of, sentence):
    assert wetted_sentence(seen(of, water=LACKING), METRIC) == sentence


def test_nothing_more_is_asked_for_where_the_lack_is_small_not_known_or_of_yesterday():
    ended = replace(SHORT, running=False)
    short = "The water reached 8 cm by 8:40; the roots go down to 30 cm."
    assert wetted_sentence(seen(ended, water=replace(LACKING, depletion_mm=1.0)), METRIC) == short
    assert wetted_sentence(seen(ended, water=None), METRIC) == short
    later = wetted_sentence(seen(ended, water=LACKING, now_ms=NOW_MS + 24 * HOUR_MS), METRIC)
    assert later == "The water reached 8 cm by yesterday 8:40; the roots go down to 30 cm."


def test_us_units_are_spoken_where_the_garden_wants_them():
    said = wetted_sentence(seen(replace(SHORT, running=False), water=LACKING), US)
    assert (
        said == "The water reached 3 in by 8:40 am; the roots go down to 12 in. Give 10 gallons more to reach the lowest roots."
    )


NONE = (not_there(0.08), not_there(0.20))
UNHEARD = tuple(not_there(depth_m, before=float("nan"), rise=float("nan")) for depth_m in (0.08, 0.20))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"onset_ms": NOW_MS - HOUR_MS}, "No probe has noticed the watering of 8:00 yet."),
        (
            {},
            "No probe has noticed the watering of 6:50. "
            "Look at the hose and the drippers: the water missed the probes, or it ran off.",
        ),
        ({"cause": Cause.RAIN}, "No probe has noticed the rain of 6:50: it was little, or it ran off."),
        (
            {"found": tuple(not_there(depth_m, before=0.24) for depth_m in (0.08, 0.20))},
            "No probe has noticed the watering of 6:50: where they are the soil was full before.",
        ),
        (
            {"found": (not_there(0.08, rise=0.015, drained=True), not_there(0.20))},
            "No probe has seen the watering of 6:50 arrive; at 8 cm it has become a little wetter since.",
        ),
        (
            {"found": UNHEARD, "frozen": True},
            "How far the watering of 6:50 went is not known: the soil is near freezing, and frozen water reads dry.",
        ),
        (
            {"found": UNHEARD},
            "How far the watering of 6:50 went is not known: no moisture probe was heard both before and after it.",
        ),
    ],
)
def test_a_watering_that_no_probe_noticed_says_so_and_what_to_look_at(changes, sentence):
    told = {"cause": Cause.WATERING, "off": True, "running": False, "found": NONE, "next_m": 0.08, "reached_ms": None}
    assert wetted_sentence(seen(wetted(0.0, Flow.GO_ON, **{**told, **changes})), METRIC) == sentence


def test_under_a_mulch_it_may_be_the_mulch_that_caught_it():
    mulched = replace(bed(), covers=(Cover("straw", 0.08),))
    of = wetted(0.0, Flow.GO_ON, cause=Cause.WATERING, found=NONE, reached_ms=None, running=False)
    assert wetted_sentence(seen(of, bed=mulched), METRIC).endswith("or the mulch caught it.")


def test_why_water_is_due_tells_how_far_the_last_watering_came():
    state = seen(replace(SHORT, running=False), base=dry(1.1))
    call = step(Memory("terrace", Job.WATER), state, None).call
    assert any(line.startswith("The water reached 8 cm by 8:40") for line in word(call, state, METRIC).why)
