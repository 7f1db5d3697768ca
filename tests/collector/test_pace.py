"""How much a source may say: a farm's backlog passes, a runaway board does not, and takes nothing from the others."""

from __future__ import annotations

from collector.intake import Intake
from collector.intake_round import Why
from collector.pace import A_SECOND, AT_ONCE, MOST_SOURCES, OVER_AFTER_S, Pace
from tests.fakes import FakeClock, FakeReadingStore, FakeSource


def test_a_month_of_forty_probes_comes_at_once_and_then_two_readings_a_second_of_each():
    pace = Pace()
    for at in range(245):  # packs of 8000, one after the other
        assert pace.may_speak("mqtt garden/a", at / 1000)
        pace.spoke("mqtt garden/a", 8000, at / 1000)
    assert 245 * 8000 > 34 * 24 * 60 * 40
    for second in range(1000):
        assert pace.may_speak("mqtt garden/a", 10.0 + second)
        pace.spoke("mqtt garden/a", 80, 10.0 + second)
    assert pace.floods(2000.0) == []


def test_a_runaway_board_is_held_to_its_pace_told_and_forgotten_when_it_is_quiet():
    pace = Pace(at_once=1000, a_second=10.0)
    taken = refused = 0
    for tick in range(1000):  # a thousand readings a second for ten seconds
        now_s = tick / 100
        if pace.may_speak("mqtt garden/mad", now_s):
            pace.spoke("mqtt garden/mad", 10, now_s)
            taken += 10
        else:
            refused += 10
    assert 1000 + 10 * 10 <= taken <= 1000 + 10 * 10 + 20
    assert refused == 10_000 - taken
    (told,) = pace.floods(10.0)
    assert told == "mqtt garden/mad has said more than 10 readings a second for long; what is beyond that is refused"
    assert pace.may_speak("mqtt garden/other", 10.0)
    assert pace.floods(10.0 + OVER_AFTER_S) == []
    assert pace.may_speak("mqtt garden/mad", 10.0 + OVER_AFTER_S)


def test_topics_without_end_take_no_memory_without_end_and_share_one_pace():
    pace = Pace(at_once=10, a_second=0.0)
    for number in range(MOST_SOURCES):
        pace.spoke(f"mqtt {number}", 10, 0.0)
    assert pace.may_speak("mqtt new", 0.0)
    pace.spoke("mqtt new", 10, 0.0)
    assert not pace.may_speak("mqtt newer", 0.0)
    assert len(pace._left) <= MOST_SOURCES + 1
    filled = Pace(at_once=10, a_second=1.0)
    for number in range(3 * MOST_SOURCES):
        filled.spoke(f"mqtt {number}", 10, float(number))
    assert len(filled._left) <= MOST_SOURCES


def test_the_intake_refuses_what_is_beyond_keeps_a_message_of_it_and_takes_the_others():
    clock, store = FakeClock(), FakeReadingStore()
    source = FakeSource(clock)
    pack = b'[{"n":"mad/t","u":"Cel","v":1},{"n":"mad/u","u":"Cel","v":1}]'
    intake = Intake([source], store, (), clock, pace=Pace(at_once=10, a_second=0.0))
    for _ in range(20):
        source.say(pack, topic="garden/mad")
    source.say(b'[{"n":"sound","u":"Cel","v":1}]', topic="garden/sound")
    while intake.step(0):
        pass
    assert intake.counts.refused == {Why.TOO_MANY: 15}
    assert intake.counts.unclaimed == 11
    (kept,) = [one for batch in store.batches for one in batch.refusals]
    assert kept.source == "mqtt garden/mad"
    assert kept.payload == pack
    assert len(intake.floods) == 1


def test_the_pace_is_far_above_what_soil_needs():
    assert AT_ONCE > 40 * 60 * 24 * 30
    assert A_SECOND > 40
