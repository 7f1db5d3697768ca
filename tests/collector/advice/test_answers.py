"""A call answered by the link in its message: once, its own, and only while it is asked for."""

import pytest

from collector.advice import links
from collector.advice.answers import Answer, Answers
from collector.advice.rounds import Rounds
from collector.calls import Due, Job, Memory, Notice
from collector.errors import LinkError
from collector.journal import Deed
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, HOUR_MS, FakeReadings, FakeSeason, M, bed, every, garden, probe

DRY, WET = 0.17, 0.23


def asked_of(moisture=DRY, job=Job.WATER):
    """A bed that is dry (or not), and a notice of it that was told an hour ago."""
    readings, season, clock = FakeReadings(), FakeSeason(), FakeClock()
    readings.say(probe(M, 0.15), moisture, *every(HOUR_MS, NOW_MS - 30 * HOUR_MS, NOW_MS))
    whole = garden(bed())
    notice = Notice(0, NOW_MS - HOUR_MS, "terrace", job, "Water 68 litres", "It is dry.")
    season.record([Memory("terrace", job, Due.DUE)], [(notice, [])])
    return Answers(whole, season, Rounds(whole, readings, season), clock), season, clock, readings


def link(season, nonce="ab" * 16, notice_id=1, until_ms=NOW_MS + DAY_MS):
    return links.sign(season.link_key(), links.Ticket(notice_id, until_ms, nonce))


def test_the_link_says_what_is_asked_as_things_are_now():
    answers, season, _, _ = asked_of()
    found = answers.asked(link(season))
    assert (found.notice.id, found.bed.id) == (1, "terrace")
    assert found.call.heading.startswith("Water ")
    assert found.may == (Answer.DONE, Answer.TOMORROW, Answer.IN_THREE_DAYS)
    assert list(season.entries(0, 2**62)) == []


def test_done_is_written_down_with_the_amount_that_was_asked_for_and_the_notice_is_seen():
    answers, season, _, _ = asked_of()
    litres = round(answers.asked(link(season)).call.call.numbers["litres"])
    assert answers.give(link(season), Answer.DONE).startswith("Written down as done")
    (entry,) = season.entries(0, 2**62)
    assert (entry.deed, entry.bed_id, entry.at_ms) == (Deed.WATERED, "terrace", NOW_MS)
    assert round(entry.amounts["litres"]) == litres
    assert season.notice(1).seen_ms == NOW_MS


def test_it_works_once_and_says_for_what_it_was_used():
    answers, season, _, _ = asked_of()
    answers.give(link(season), Answer.TOMORROW)
    for answer in Answer:
        with pytest.raises(LinkError, match=r"used .*not again today"):
            answers.give(link(season), answer)
    with pytest.raises(LinkError, match="used"):
        answers.asked(link(season))
    assert list(season.entries(0, 2**62)) == []


def test_to_wait_is_until_the_morning_of_that_day():
    answers, season, _, _ = asked_of()
    answers.give(link(season), Answer.IN_THREE_DAYS)
    waits_ms = season.notice(1).snoozed_ms - NOW_MS
    assert 2 * DAY_MS < waits_ms <= 3 * DAY_MS


def test_two_messages_of_one_notice_have_a_link_each():
    answers, season, _, _ = asked_of()
    answers.give(link(season, "ab" * 16), Answer.TOMORROW)
    assert answers.asked(link(season, "cd" * 16)).may


def test_what_is_no_longer_asked_for_is_not_answered():
    answers, season, _, _ = asked_of(moisture=WET)
    assert answers.asked(link(season)).may == ()
    with pytest.raises(LinkError, match="no longer asked for"):
        answers.give(link(season), Answer.DONE)
    assert list(season.entries(0, 2**62)) == []
    assert season.links_used == {}


@pytest.mark.parametrize(
    ("spoiled", "said"),
    [
        (lambda season: link(season)[:-1] + "0", "not whole"),
        (lambda season: link(season, until_ms=NOW_MS), "run out"),
        (lambda season: link(season, notice_id=99), "no longer in the garden file"),
        (lambda _: "", "not whole"),
    ],
)
def test_a_link_that_is_none_changes_nothing(spoiled, said):
    answers, season, _, _ = asked_of()
    token = spoiled(season)
    if token == link(season):
        token = token[:-1] + "1"
    for act in (lambda: answers.asked(token), lambda: answers.give(token, Answer.DONE)):
        with pytest.raises(LinkError, match=said):
            act()
    assert list(season.entries(0, 2**62)) == []
