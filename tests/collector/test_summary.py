"""The message of the morning: at its hour, once a day, over restarts and the change of the clock; silent where nothing is due."""

import datetime as dt
from zoneinfo import ZoneInfo

from collector.advice.rounds import Rounds
from collector.calls import Job
from collector.notices import Notices
from collector.settings import NotifySettings
from collector.summary import GARDEN, Summary
from tests.fakes import FakeClock
from tests.fakes_advice import HOUR_MS, FakePhone, FakeReadings, M, bed, every, garden, probe

LISBON = ZoneInfo("Europe/Lisbon")
PHONE, MAIL = "COOLDEPTH_PHONE_URL", "COOLDEPTH_MAIL_URL"
DRY, MOIST = 0.185, 0.225


def at(*parts):
    return int(dt.datetime(*parts, tzinfo=LISBON).timestamp() * 1000)


class Morning:
    """A garden of two beds, of which the first is dry or moist, and two phones: one that wants a summary at seven."""

    def __init__(self, season, now_ms, moisture=DRY, summary_at=dt.time(7)):
        ways = (NotifySettings("json://x", PHONE, summary_at=summary_at), NotifySettings("json://x", MAIL))
        self.garden = garden(bed(thermometers_m=()), bed(bed_id="gate", name="Gate bed", thermometers_m=()), notify=ways)
        self.clock, self.moisture = FakeClock(now_ms), moisture
        self.phone, self.mail, self.season = FakePhone(), FakePhone(MAIL), season
        self.start()

    def start(self):
        """As after a restart of the collector."""
        self.readings = FakeReadings()
        self.rounds = Rounds(self.garden, self.readings, self.season)
        self.notices = Notices(self.garden, self.season, [self.phone, self.mail], self.clock)
        self.summary = Summary(self.garden, self.season, self.notices, self.clock)

    def look(self):
        now_ms = self.clock.now_ms()
        for bed_id, moisture in (("terrace", self.moisture), ("gate", MOIST)):
            self.readings.say(probe(M, 0.15, bed_id), moisture, *every(HOUR_MS, now_ms - 30 * HOUR_MS, now_ms))
        self.summary.look(self.rounds.go(self.garden.beds, now_ms))
        self.notices.deliver()

    def look_until(self, *parts):
        """A look each quarter of an hour; answers with what the phone heard."""
        before = len(self.phone.heard)
        while self.clock.now_ms() < at(*parts):
            self.clock.pass_s(900)
            self.look()
        return self.phone.heard[before:]


def test_what_is_due_is_summed_up_at_its_hour_once_a_day_for_the_phone_that_wants_it(season):
    morning = Morning(season, at(2026, 4, 13, 5, 0))
    assert morning.look_until(2026, 4, 13, 6, 45) == []
    ((title, text),) = morning.look_until(2026, 4, 13, 18, 0)
    assert title == "1 job today"
    assert text.startswith("Terrace bed: water ")
    assert "Gate bed" not in text
    assert morning.mail.heard == []
    assert season.notices(1)[0].bed_id == GARDEN
    assert [t for t, _ in morning.look_until(2026, 4, 14, 18, 0)] == ["1 job today"]


def test_a_restart_tells_nothing_twice_and_one_that_slept_through_the_morning_waits_for_the_next(season):
    morning = Morning(season, at(2026, 4, 13, 6, 50))
    assert len(morning.look_until(2026, 4, 13, 7, 30)) == 1
    morning.start()
    assert morning.look_until(2026, 4, 13, 9, 0) == []
    late = Morning(season, at(2026, 4, 15, 14, 0))
    assert late.look_until(2026, 4, 15, 20, 0) == []


def test_nothing_due_is_no_word_also_where_something_falls_due_later_in_the_morning(season):
    morning = Morning(season, at(2026, 4, 13, 6, 50), moisture=MOIST)
    assert morning.look_until(2026, 4, 13, 7, 30) == []
    morning.moisture = DRY
    assert morning.look_until(2026, 4, 13, 12, 0) == []


def test_on_the_days_on_which_the_clock_changes_it_comes_once_at_seven_by_the_clock(season):
    for before, day in (((2026, 3, 28, 22, 0), (2026, 3, 29)), ((2026, 10, 24, 22, 0), (2026, 10, 25))):
        morning = Morning(season, at(*before))
        morning.look_until(*day, 18, 0)
        (told,) = [one for one in season.notices(50) if one.bed_id == GARDEN and one.raised_ms > at(*day, 0, 0)]
        local = dt.datetime.fromtimestamp(told.raised_ms / 1000, LISBON)
        assert (local.hour, local.minute) == (7, 0)


def test_a_phone_that_asked_for_none_gets_none(season):
    morning = Morning(season, at(2026, 4, 13, 5, 0), summary_at=None)
    assert morning.look_until(2026, 4, 13, 18, 0) == []


def test_a_silent_bed_is_summed_up_as_not_known(season):
    morning = Morning(season, at(2026, 4, 13, 5, 0))
    morning.readings.say(probe(M, 0.15), DRY, at(2026, 4, 10, 5, 0))
    title, text = morning.summary.words(morning.rounds.go(morning.garden.beds, at(2026, 4, 13, 7, 0)))
    assert title == "Nothing is due today"
    assert "Terrace bed: not known since" in text
    assert Job.LOOK.value == "look"
