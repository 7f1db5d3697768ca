"""Notices on their way: one transaction, quiet hours by the garden's clock, tried until delivered."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from collector.calls import Due, Job, Memory, Notice
from collector.notices import BROKER, COLLECTOR, GROUP, Notices, end_of_quiet_ms
from collector.settings import NotifySettings
from tests.fakes import FakeClock
from tests.fakes_advice import MINUTE_MS, FakePhone, bed, garden

PHONE, MAIL = "COOLDEPTH_PHONE_URL", "COOLDEPTH_MAIL_URL"
LISBON = ZoneInfo("Europe/Lisbon")
DRY = Memory("terrace", Job.WATER, Due.DUE, 1, told_ms=1)


def at(*parts, fold=0, zone=LISBON):
    return int(dt.datetime(*parts, tzinfo=zone, fold=fold).timestamp() * 1000)


NOON_MS = at(2026, 4, 13, 12, 0)


def outbox(season, *phones, now_ms=NOON_MS, quiet=None, dug_up_at_once=False):
    """Notices over these phones; `quiet` holds the first one's quiet hours."""
    ways = [NotifySettings("json://x", phone.channel, *(quiet or (None, None)), dug_up_at_once) for phone in phones[:1]]
    ways += [NotifySettings("json://x", phone.channel) for phone in phones[1:]]
    clock = FakeClock(now_ms)
    return Notices(garden(bed(), notify=tuple(ways)), season, phones, clock), clock


def water(clock):
    return Notice(0, clock.now_ms(), "terrace", Job.WATER, "Terrace bed: water 68 litres", "Six minutes of hose.")


def test_a_notice_goes_to_every_phone_once(season):
    phone, mail = FakePhone(), FakePhone(MAIL)
    notices, clock = outbox(season, phone, mail)
    notices.post([DRY], [water(clock)], [])
    for _ in range(3):
        notices.deliver()
        clock.pass_s(3600)
    assert phone.heard == mail.heard == [("Terrace bed: water 68 litres", "Six minutes of hose.")]
    assert season.errands(None) == [] or season.errands(None) == ()
    assert season.memories()["terrace", Job.WATER] == DRY


def test_a_phone_that_is_away_is_tried_after_1_2_5_15_and_then_every_60_minutes(season):
    phone = FakePhone()
    phone.away = True
    notices, clock = outbox(season, phone)
    notices.post([DRY], [water(clock)], [])
    started_ms, tried = clock.now_ms(), []
    for _ in range(250):
        before = season.errands(None)[0].attempts
        notices.deliver()
        if season.errands(None)[0].attempts > before:
            tried.append((clock.now_ms() - started_ms) // MINUTE_MS)
        clock.pass_s(60)
    assert tried == [0, 1, 3, 8, 23, 83, 143, 203]
    assert season.errands(None)[0].trouble == f"{PHONE}: no network"


def test_a_phone_that_comes_back_is_told_what_it_missed_and_from_when(season):
    phone = FakePhone()
    phone.away = True
    notices, clock = outbox(season, phone)
    notices.post([DRY], [water(clock)], [])
    notices.deliver()
    clock.pass_s(2 * 3600)
    phone.away = False
    notices.deliver()
    assert phone.heard == [("Terrace bed: water 68 litres", "Said 12:00: Six minutes of hose.")]


def test_one_phone_that_is_away_holds_up_no_other(season):
    away, mail = FakePhone(), FakePhone(MAIL)
    away.away = True
    notices, clock = outbox(season, away, mail)
    notices.post([DRY], [water(clock)], [])
    notices.deliver()
    assert len(mail.heard) == 1
    assert [errand.channel for errand in season.errands(None)] == [PHONE]


def test_what_falls_into_quiet_hours_is_held_to_their_end_and_not_lost(season):
    phone, mail = FakePhone(), FakePhone(MAIL)
    notices, clock = outbox(season, phone, mail, now_ms=at(2026, 4, 13, 23, 10), quiet=(dt.time(22, 0), dt.time(6, 30)))
    notices.post([DRY], [water(clock)], [])
    heard = {}
    for _ in range(24 * 60):
        notices.deliver()
        heard.setdefault((len(phone.heard), len(mail.heard)), clock.now_ms())
        clock.pass_s(60)
    assert heard == {(0, 1): at(2026, 4, 13, 23, 10), (1, 1): at(2026, 4, 14, 6, 30)}
    assert phone.heard == [("Terrace bed: water 68 litres", "Said yesterday 23:10: Six minutes of hose.")]


def test_a_retry_does_not_wake_the_grower_either(season):
    phone = FakePhone()
    phone.away = True
    notices, clock = outbox(season, phone, now_ms=at(2026, 4, 13, 21, 59, 30), quiet=(dt.time(22, 0), dt.time(6, 30)))
    notices.post([DRY], [water(clock)], [])
    notices.deliver()
    assert season.errands(None)[0].not_before_ms == at(2026, 4, 14, 6, 30)


@pytest.mark.parametrize(("job", "at_once", "heard"), [
    (Job.STAKE, True, 1), (Job.STAKE, False, 0), (Job.WATER, True, 0), (Job.PROBE, True, 0),
])  # fmt: skip
def test_a_stake_that_was_dug_up_is_told_in_quiet_hours_where_the_grower_says_so_and_nothing_else_is(season, job, at_once, heard):
    phone = FakePhone()
    quiet = (dt.time(22, 0), dt.time(6, 30))
    notices, clock = outbox(season, phone, now_ms=at(2026, 4, 13, 23, 10), quiet=quiet, dug_up_at_once=at_once)
    phone.away = True  # a second attempt keeps to the same hours as the first
    notices.post([], [Notice(0, clock.now_ms(), "terrace", job, "Terrace bed: push the stake back in", "In the air.")], [])
    notices.deliver()
    phone.away = False
    clock.pass_s(61)
    notices.deliver()
    assert len(phone.heard) == heard


def test_a_held_notice_that_was_answered_meanwhile_is_told_as_answered(season):
    phone = FakePhone()
    notices, clock = outbox(season, phone, now_ms=at(2026, 4, 13, 23, 10), quiet=(dt.time(22, 0), dt.time(6, 30)))
    notices.post([DRY], [water(clock)], [])
    clock.pass_s(4 * 3600)
    notices.post([Memory("terrace", Job.WATER)], [], [("terrace", Job.WATER)])
    clock.pass_s(5 * 3600)
    notices.deliver()
    title, text = phone.heard[0]
    assert title == "No longer due: Terrace bed: water 68 litres"
    assert text == "Answered 3:10; nothing is left to do. Said yesterday 23:10: Six minutes of hose."


def test_clearing_touches_the_open_notice_of_that_bed_and_job_alone(season):
    notices, clock = outbox(season, FakePhone())
    shade = Notice(0, clock.now_ms(), "terrace", Job.SHADE, "Terrace bed: lay the shade cloth", "Warm.")
    gate = Notice(0, clock.now_ms(), "gate", Job.WATER, "Gate bed: water 20 litres", "Dry.")
    notices.post([DRY], [water(clock), shade, gate], [])
    clock.pass_s(60)
    notices.post([], [], [("terrace", Job.WATER)])
    first_ms = clock.now_ms()
    clock.pass_s(60)
    notices.post([], [], [("terrace", Job.WATER)])
    cleared = {(notice.bed_id, notice.job): notice.cleared_ms for notice in season.notices(10)}
    assert cleared == {("terrace", Job.WATER): first_ms, ("terrace", Job.SHADE): None, ("gate", Job.WATER): None}


def test_a_collector_that_dies_between_sending_and_noting_it_sends_again_rather_than_never(season):
    class Killed(BaseException):
        pass

    class DyingPhone(FakePhone):
        def tell(self, title, text):
            super().tell(title, text)
            raise Killed

    dying, clock = outbox(season, DyingPhone())
    dying.post([DRY], [water(clock)], [])
    with pytest.raises(Killed):
        dying.deliver()
    phone = FakePhone()
    outbox(season, phone)[0].deliver()
    assert len(phone.heard) == 1


def test_an_errand_to_a_phone_that_the_garden_file_no_longer_names_stays_and_says_so(season):
    notices, clock = outbox(season, FakePhone("COOLDEPTH_OLD_URL"))
    notices.post([DRY], [water(clock)], [])
    phone = FakePhone()
    outbox(season, phone)[0].deliver()
    assert phone.heard == []
    assert season.errands(None)[0].trouble == "COOLDEPTH_OLD_URL: the garden file names no such [[notify]] any more"


def test_without_a_phone_the_notice_is_in_the_record_all_the_same(season):
    notices, clock = outbox(season)
    notices.post([DRY], [water(clock)], [])
    notices.deliver()
    assert [notice.title for notice in season.notices(10)] == ["Terrace bed: water 68 litres"]


# ---------------------------------------------------------------- quiet hours

NIGHT, SIESTA = (dt.time(22, 0), dt.time(6, 30)), (dt.time(13, 0), dt.time(15, 0))


@pytest.mark.parametrize(
    ("now", "span", "end"),
    [
        ((2026, 4, 13, 21, 59), NIGHT, (2026, 4, 13, 21, 59)),
        ((2026, 4, 13, 22, 0), NIGHT, (2026, 4, 14, 6, 30)),
        ((2026, 4, 14, 0, 0), NIGHT, (2026, 4, 14, 6, 30)),
        ((2026, 4, 14, 6, 29, 59), NIGHT, (2026, 4, 14, 6, 30)),
        ((2026, 4, 14, 6, 30), NIGHT, (2026, 4, 14, 6, 30)),
        ((2026, 12, 31, 23, 0), NIGHT, (2027, 1, 1, 6, 30)),
        ((2026, 4, 13, 14, 0), SIESTA, (2026, 4, 13, 15, 0)),
        ((2026, 4, 13, 15, 0), SIESTA, (2026, 4, 13, 15, 0)),
        ((2026, 4, 13, 14, 0), (dt.time(14, 0), dt.time(14, 0)), (2026, 4, 13, 14, 0)),
    ],
)
def test_quiet_hours_end_by_the_local_clock(now, span, end):
    assert end_of_quiet_ms(at(*now), *span, LISBON) == at(*end)


def test_the_night_that_loses_an_hour_is_an_hour_shorter():
    # Clocks in Lisbon go from 1:00 to 2:00 on 29 March 2026.
    assert end_of_quiet_ms(at(2026, 3, 28, 23, 0), *NIGHT, LISBON) - at(2026, 3, 28, 23, 0) == 6.5 * 60 * MINUTE_MS


def test_the_night_that_gains_an_hour_is_an_hour_longer():
    # Clocks in Lisbon go from 2:00 back to 1:00 on 25 October 2026.
    assert end_of_quiet_ms(at(2026, 10, 24, 23, 0), *NIGHT, LISBON) - at(2026, 10, 24, 23, 0) == 8.5 * 60 * MINUTE_MS


def test_an_end_that_the_clock_skips_is_the_moment_it_skips_to():
    assert end_of_quiet_ms(at(2026, 3, 28, 23, 0), dt.time(22, 0), dt.time(1, 30), LISBON) == at(2026, 3, 29, 2, 30)


def test_an_end_that_comes_twice_is_never_one_that_has_passed():
    span = (dt.time(22, 0), dt.time(1, 30))
    assert end_of_quiet_ms(at(2026, 10, 25, 1, 10), *span, LISBON) == at(2026, 10, 25, 1, 30)
    assert end_of_quiet_ms(at(2026, 10, 25, 1, 10, fold=1), *span, LISBON) == at(2026, 10, 25, 1, 30, fold=1)


# ---------------------------------------------------------------- readings that cannot get to their store

AWAY, FULL = (Due.SOON, "8 readings wait."), (Due.DUE, "They fill the queue.")
STORE = ("the collector", Job.LOOK)


def test_a_store_that_is_away_is_told_once_once_more_when_the_queue_is_full_and_cleared_when_it_is_back(season):
    phone = FakePhone()
    notices, clock = outbox(season, phone)
    for alarm in (None, AWAY, AWAY, FULL, AWAY, FULL):
        notices.heed(COLLECTOR, alarm)
        clock.pass_s(10)
    assert phone.heard == [
        ("InfluxDB has taken no readings for an hour", "8 readings wait."),
        ("No more readings are taken in: see to InfluxDB", "They fill the queue."),
    ]
    assert season.memories()[STORE].due is Due.DUE
    assert [notice.cleared_ms for notice in season.notices(9)] == [None, None]
    notices.heed(COLLECTOR, None)
    assert season.memories()[STORE].due is Due.FINE
    assert all(notice.cleared_ms for notice in season.notices(9))
    notices.heed(COLLECTOR, AWAY)
    assert len(phone.heard) == 3


def test_what_was_told_of_the_store_is_not_told_again_after_a_new_start(season):
    phone = FakePhone()
    for _ in range(2):
        notices, _ = outbox(season, phone)
        notices.heed(COLLECTOR, AWAY)
    assert len(phone.heard) == 1


# ---------------------------------------------------------------- the broker and the group

DROPPED = (Due.SOON, "It has dropped 12 messages.")
MISSING = (Due.SOON, "Two is away.")


def test_alarms_of_different_kinds_are_told_and_cleared_each_by_itself(season):
    phone = FakePhone()
    notices, _ = outbox(season, phone)
    for kind, alarm in ((COLLECTOR, AWAY), (BROKER, DROPPED), (GROUP, MISSING), (BROKER, DROPPED), (GROUP, MISSING)):
        notices.heed(kind, alarm)
    assert [title for title, _ in phone.heard] == [
        "InfluxDB has taken no readings for an hour",
        "The broker drops messages",
        "A collector of the group is away",
    ]
    notices.heed(BROKER, None)
    assert [notice.bed_id for notice in season.notices(9) if notice.cleared_ms] == [BROKER]
    assert {kind: season.memories()[kind, Job.LOOK].due for kind in (COLLECTOR, BROKER, GROUP)} == {
        COLLECTOR: Due.SOON,
        BROKER: Due.FINE,
        GROUP: Due.SOON,
    }
    notices.heed(GROUP, (Due.DUE, "Two and three are away."))
    assert phone.heard[3:] == [("See to the group: collectors are away", "Two and three are away.")]


def test_what_is_not_known_neither_tells_nor_clears(season):
    phone = FakePhone()
    notices, _ = outbox(season, phone)
    notices.heed(GROUP, MISSING)
    notices.heed(GROUP, (Due.NOT_KNOWN, ""))
    assert season.memories()[GROUP, Job.LOOK].due is Due.SOON
    assert [notice.cleared_ms for notice in season.notices(9)] == [None]
    notices.heed(BROKER, (Due.NOT_KNOWN, ""))
    assert len(phone.heard) == 1


def test_a_count_that_has_not_grown_since_it_was_told_is_no_news_and_one_that_has_is(season):
    phone = FakePhone()
    notices, _ = outbox(season, phone)
    for _ in range(2):  # the second time as after a new start, a day later
        notices.heed(BROKER, DROPPED)
        notices.heed(BROKER, None)
    assert len(phone.heard) == 1
    notices.heed(BROKER, (Due.SOON, "It has dropped 13 messages."))
    assert phone.heard[1:] == [("The broker drops messages", "It has dropped 13 messages.")]


# ---------------------------------------------------------------- told again


def told(season, phone, clock, notices, *, hours):
    """Let hours pass, with a look each; answers with the titles that the phone heard in them."""
    before = len(phone.heard)
    for _ in range(hours):
        clock.pass_s(3600)
        notices.remind()
        notices.deliver()
    return [title for title, _ in phone.heard[before:]]


@pytest.fixture
def due(season):
    """A bed that is due to be watered, told to a phone just now."""
    phone = FakePhone()
    notices, clock = outbox(season, phone)
    season.record([DRY], [])
    notices.post([DRY], [water(clock)], [])
    notices.deliver()
    assert len(phone.heard) == 1
    return season, phone, clock, notices


def test_what_is_due_and_neither_done_nor_seen_is_told_again_each_day_three_times_at_most(due):
    assert told(*due, hours=23) == []
    assert told(*due, hours=2) == ["Still due: Terrace bed: water 68 litres"]
    assert told(*due, hours=24) == ["Still due: Terrace bed: water 68 litres"]
    assert told(*due, hours=100) == ["Still due: Terrace bed: water 68 litres"]
    (errand,) = due[0].ways([1])
    assert errand.reminders == 3


def test_what_was_seen_or_is_answered_or_no_longer_due_is_not_told_again(season):
    for end in ("seen", "cleared", "fine"):
        phone = FakePhone()
        notices, clock = outbox(season, phone)
        notices.post([DRY], [water(clock)], [])
        notices.deliver()
        newest = season.notices(1)[0]
        if end == "seen":
            season.see(newest.id, clock.now_ms())
        elif end == "cleared":
            notices.post([], [], [("terrace", Job.WATER)])
        else:
            season.record([Memory("terrace", Job.WATER, Due.FINE, 1)], [])
        assert told(season, phone, clock, notices, hours=60) == [], end


def test_a_notice_that_may_wait_waits_and_is_told_after(due):
    season, _, clock, _ = due
    season.snooze(1, clock.now_ms() + 40 * 3_600_000)
    assert told(*due, hours=39) == []
    assert told(*due, hours=2) == ["Still due: Terrace bed: water 68 litres"]


def test_a_reminder_keeps_quiet_hours_and_a_phone_that_wants_none_gets_none(season):
    phone = FakePhone()
    notices, clock = outbox(season, phone, now_ms=at(2026, 4, 13, 23, 30), quiet=(dt.time(22), dt.time(6, 30)))
    notices.post([DRY], [water(clock)], [])
    clock.pass_s(7 * 3600)
    notices.deliver()
    assert told(season, phone, clock, notices, hours=23) == []
    assert told(season, phone, clock, notices, hours=1) == ["Still due: Terrace bed: water 68 litres"]  # 6:30 the day after
    never = Notices(garden(bed(), notify=(NotifySettings("json://x", PHONE, remind_after_h=0),)), season, [phone], clock)
    assert told(season, phone, clock, never, hours=100) == []
