"""The questions that the pages may ask, and the answers they get."""

from dataclasses import replace

import msgspec
import numpy as np
import pytest

from collector.calls import Due, Job, Report
from collector.errors import QuestionError, StoreBusyError
from collector.model import Batch, Flag, Unclaimed
from collector.query import Heard, SoilQueries
from collector.stores.season import SqliteSeason
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from collector.units import Quantity
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, HOUR_MS, MINUTE_MS, FakeReadings, FakeSeason, M, T, bed, every, garden, outlook, probe

T5, T12, T20, M15 = probe(T, 0.05), probe(T, 0.12), probe(T, 0.20), probe(M, 0.15)
BATTERY = probe(Quantity.BATTERY, None)
TWO_DAYS = every(10 * MINUTE_MS, NOW_MS - 2 * DAY_MS, NOW_MS)
MOIST, DRY = 0.215, 0.19


class Asked:
    """SoilQueries of a garden, with the stores it asks and the clock it reads."""

    def __init__(self, *beds, season=None):
        self.clock, self.readings, self.season = FakeClock(), FakeReadings(), season or FakeSeason()
        self.season.word = Report(NOW_MS)
        self.queries = SoilQueries(garden(*(beds or (bed(),))), self.readings, self.season, self.clock)

    def fill(self, temperatures_c=(17.0, 16.0, 15.0), moisture=MOIST, times=TWO_DAYS, bed_id="terrace"):
        for depth_m, temperature_c in zip((0.05, 0.12, 0.20), temperatures_c, strict=True):
            self.readings.say(probe(T, depth_m, bed_id), temperature_c, *times)
        self.readings.say(probe(M, 0.15, bed_id), moisture, *times)
        return self


# ---------------------------------------------------------------- a bed and the garden now


def test_a_fine_bed_has_no_calls_and_says_its_numbers():
    view = Asked().fill().queries.bed("terrace")
    assert view.calls == ()
    assert view.fine.startswith("Fine. The cloves averaged 16 °C over the last 24 hours; your limit is 18 °C.")
    assert (view.heard, view.heard_ms, view.cool_line, view.crossings_m) == (Heard.FRESH, NOW_MS, "cool all the way down", ())


def test_a_warm_bed_shows_its_call_and_where_the_soil_crosses_the_limit():
    view = Asked().fill((20.0, 18.6, 17.0)).queries.bed("terrace")
    assert [(worded.call.job, worded.call.due) for worded in view.calls] == [(Job.SHADE, Due.DUE)]
    assert view.fine is None
    assert view.crossings_m == pytest.approx((0.12 + 0.08 * 0.6 / 1.6,), abs=0.005)
    assert view.cool_line == "cool below 15 cm"


def test_a_page_shows_a_call_before_the_advisor_has_looked_and_saves_nothing():
    asked = Asked().fill(moisture=DRY)
    assert [worded.heading for worded in asked.queries.bed("terrace").calls] == ["Water 86 litres"]
    assert (asked.season.records, asked.season.kept) == (0, {})


def test_the_most_pressing_bed_stands_first_and_the_rest_keep_their_order():
    ids = ("fine", "silent", "dry", "also-fine")
    asked = Asked(*(bed(bed_id=name) for name in ids))
    asked.fill(bed_id="fine").fill(bed_id="dry", moisture=DRY).fill(bed_id="also-fine")
    asked.fill(bed_id="silent", times=[NOW_MS - DAY_MS])
    assert [view.bed.id for view in asked.queries.garden().beds] == ["dry", "silent", "fine", "also-fine"]


def test_an_empty_store_is_a_garden_that_was_never_heard():
    view = Asked().queries.garden().beds[0]
    assert (view.heard, view.heard_ms, view.cool_line, view.fine) == (Heard.NEVER, None, None, None)
    assert [worded.flag for worded in view.calls] == ["Nothing heard yet"]
    assert [(each.last, each.heard, each.fault) for each in view.probes] == [(None, Heard.NEVER, None)] * 4


def test_the_air_over_one_bed_serves_the_others_while_it_is_fresh():
    air = probe(Quantity.AIR_TEMPERATURE, None, "north")
    asked = Asked(bed(), bed(bed_id="north", others=[Quantity.AIR_TEMPERATURE]))
    assert asked.queries.bed("terrace").air_c is None
    asked.readings.say(air, 24.5, NOW_MS - 20 * MINUTE_MS)
    assert [asked.queries.bed(name).air_c for name in ("terrace", "north")] == [24.5, 24.5]
    asked.clock.pass_s(3600)
    assert asked.queries.bed("terrace").air_c is None


def test_a_bed_goes_by_its_own_air_thermometer_first():
    asked = Asked(*(bed(bed_id=name, others=[Quantity.AIR_TEMPERATURE]) for name in ("north", "south")))
    asked.readings.say(probe(Quantity.AIR_TEMPERATURE, None, "north"), 20.0, NOW_MS)
    asked.readings.say(probe(Quantity.AIR_TEMPERATURE, None, "south"), 25.0, NOW_MS)
    assert asked.queries.bed("south").air_c == 25.0


def test_a_garden_file_with_one_probe_is_enough():
    asked = Asked(bed(thermometers_m=(0.12,), moistures_m=()))
    asked.readings.say(T12, 17.4, *TWO_DAYS)
    view = asked.queries.bed("terrace")
    assert view.state.clove.value == 17.4
    assert view.fine.endswith("No moisture probe in this bed.")


def test_an_unknown_bed_is_told_with_the_beds_there_are():
    with pytest.raises(QuestionError, match=r"'gate'.*it names terrace"):
        Asked().queries.bed("gate")


# ---------------------------------------------------------------- how lately a probe spoke


@pytest.mark.parametrize(
    ("pace_ms", "age_ms", "heard"),
    [
        (10 * MINUTE_MS, 30 * MINUTE_MS, Heard.FRESH),
        (10 * MINUTE_MS, 31 * MINUTE_MS, Heard.LATE),
        (10 * MINUTE_MS, 120 * MINUTE_MS, Heard.LATE),
        (10 * MINUTE_MS, 121 * MINUTE_MS, Heard.SILENT),
        (MINUTE_MS, 5 * MINUTE_MS, Heard.FRESH),  # a broker that starts again takes a minute or two
        (MINUTE_MS, 6 * MINUTE_MS, Heard.LATE),
        (MINUTE_MS, 60 * MINUTE_MS, Heard.LATE),
        (MINUTE_MS, 61 * MINUTE_MS, Heard.SILENT),
        (6 * HOUR_MS, 17 * HOUR_MS, Heard.FRESH),
    ],
)
def test_a_probe_is_late_and_silent_by_its_own_pace(pace_ms, age_ms, heard):
    asked = Asked(bed(thermometers_m=(0.12,), moistures_m=()))
    last_ms = NOW_MS - age_ms
    asked.readings.say(T12, 16.0, *every(pace_ms, last_ms - 5 * pace_ms, last_ms))
    view = asked.queries.bed("terrace")
    assert (view.probes[0].heard, view.heard, view.heard_ms) == (heard, heard, last_ms)


def test_a_battery_that_speaks_does_not_make_a_silent_soil_fresh():
    asked = Asked(bed(others=(Quantity.BATTERY,))).fill(times=[NOW_MS - 2 * HOUR_MS])
    asked.readings.say(BATTERY, 3.1, NOW_MS)
    view = asked.queries.bed("terrace")
    assert (view.heard, view.heard_ms) == (Heard.SILENT, NOW_MS - 2 * HOUR_MS)
    assert view.probes[-1].heard is Heard.FRESH


def test_a_bed_with_nothing_in_the_soil_goes_by_what_it_has():
    asked = Asked(bed(thermometers_m=(), moistures_m=(), others=(Quantity.AIR_TEMPERATURE,)))
    asked.readings.say(probe(Quantity.AIR_TEMPERATURE, None), 21.0, *TWO_DAYS)
    view = asked.queries.bed("terrace")
    assert (view.heard, view.heard_ms) == (Heard.FRESH, NOW_MS)


def test_a_fault_is_told_in_words_beside_its_probe():
    asked = Asked().fill()
    asked.readings.say(T12, 85.0, NOW_MS, flags=Flag.RESET_VALUE)
    faults = {view.probe.id: view.fault for view in asked.queries.bed("terrace").probes}
    assert faults[T12.id].startswith("Says 85 °C, its power-on value")
    assert [fault for name, fault in faults.items() if name != T12.id] == [None] * 3


# ---------------------------------------------------------------- history


def test_a_young_bed_has_a_history_where_the_probes_spoke_and_a_gap_where_they_did_not():
    day = every(10 * MINUTE_MS, NOW_MS - 22 * HOUR_MS, NOW_MS)
    spoken = [at_ms for at_ms in day if not NOW_MS - 14 * HOUR_MS < at_ms < NOW_MS - 10 * HOUR_MS]
    history = Asked().fill(times=spoken).queries.history("terrace", NOW_MS - 2 * DAY_MS, NOW_MS + DAY_MS)
    known = np.isfinite(history.cloves_c)
    told = (history.grid_ms >= NOW_MS - 22 * HOUR_MS) & (history.grid_ms <= NOW_MS)
    silent = (history.grid_ms > NOW_MS - 14 * HOUR_MS) & (history.grid_ms < NOW_MS - 10 * HOUR_MS)
    assert (known == (told & ~silent)).all()
    assert np.unique(history.cloves_c[known]).tolist() == [16.0]


def test_a_bed_that_is_followed_is_told_through_a_silence_of_hours_and_no_longer():
    spoken = [at for at in every(10 * MINUTE_MS, NOW_MS - 4 * DAY_MS, NOW_MS) if not 6 * HOUR_MS < NOW_MS - at < 30 * HOUR_MS]
    history = Asked().fill(times=spoken).queries.history("terrace", NOW_MS - 2 * DAY_MS, NOW_MS)
    since_h = (history.grid_ms - (NOW_MS - 30 * HOUR_MS)) / HOUR_MS
    silent = (since_h > 0) & (since_h < 24)
    assert (np.isfinite(history.cloves_c) == (~silent | (since_h <= 12))).all()
    assert np.abs(history.cloves_c[np.isfinite(history.cloves_c)] - 16.0).max() < 0.3
    # a whole profile is drawn for as long as a reading speaks of now
    assert (np.isfinite(history.profile_c[:, 12]) == (~silent | (since_h <= 3))).all()


def test_a_history_is_ten_minutes_fine_and_one_of_months_has_four_steps_in_each_day():
    asked = Asked().fill()
    day = asked.queries.history("terrace", NOW_MS - DAY_MS, NOW_MS)
    year = asked.queries.history("terrace", NOW_MS - 365 * DAY_MS, NOW_MS)
    assert (len(day.grid_ms), np.unique(np.diff(day.grid_ms)).tolist()) == (144, [10 * MINUTE_MS])
    assert (len(year.grid_ms), np.unique(np.diff(year.grid_ms)).tolist()) == (4 * 365, [6 * HOUR_MS])
    two_months = asked.queries.history("terrace", NOW_MS - 60 * DAY_MS, NOW_MS)
    assert len(two_months.grid_ms) == 400
    assert day.profile_c.shape == (144, len(day.grid_depths_m))


def test_one_hot_minute_of_a_year_ago_is_seen_in_the_year_and_found_again_in_its_day():
    asked = Asked().fill()
    hot_ms = NOW_MS - 100 * DAY_MS
    asked.readings.say(T5, 17.0, *every(10 * MINUTE_MS, hot_ms - DAY_MS, hot_ms + DAY_MS))
    asked.readings.say(T5, 31.0, hot_ms + MINUTE_MS)
    year = asked.queries.history("terrace", NOW_MS - 365 * DAY_MS, NOW_MS)
    (swing,) = year.swings
    assert (swing.probe.id, float(swing.most.max())) == (T5.id, 31.0)
    day_ms = int(swing.time_ms[int(np.argmax(swing.most))])
    assert abs(day_ms - hot_ms) <= DAY_MS
    day = asked.queries.history("terrace", hot_ms - DAY_MS // 2, hot_ms + DAY_MS // 2)
    assert day.swings == ()
    (shallowest, series), *_ = day.temperatures
    assert (shallowest.id, float(series.value.max())) == (T5.id, 31.0)


def test_a_history_is_cut_each_centimetre_to_where_the_deepest_thermometer_still_tells():
    history = Asked().fill((17.0, 16.0, 15.0)).queries.history("terrace", NOW_MS - DAY_MS, NOW_MS)
    assert history.grid_depths_m.tolist() == pytest.approx([cm / 100 for cm in range(26)])
    assert history.profile_c[0][[5, 12, 20]].tolist() == pytest.approx([17.0, 16.0, 15.0], abs=0.01)


def test_a_history_holds_the_readings_of_its_span_alone():
    history = Asked().fill().queries.history("terrace", NOW_MS - DAY_MS, NOW_MS - HOUR_MS)
    for _, series in (*history.temperatures, *history.moistures):
        assert (series.time_ms[0], series.time_ms[-1]) == (NOW_MS - DAY_MS, NOW_MS - HOUR_MS - 10 * MINUTE_MS)
    assert [of.depth_m for of, _ in history.temperatures] == [0.05, 0.12, 0.20]


def test_a_history_marks_the_waterings_that_stand():
    asked = Asked().fill()
    asked.season.done("terrace", Job.WATER, NOW_MS - 5 * HOUR_MS, litres=40.0)
    asked.season.done("terrace", Job.WATER, NOW_MS - 4 * HOUR_MS)
    asked.season.undo("terrace", Job.WATER, NOW_MS - 4 * HOUR_MS)
    asked.season.done("terrace", Job.WATER, NOW_MS - 3 * HOUR_MS)
    asked.season.done("terrace", Job.SHADE, NOW_MS - 2 * HOUR_MS)
    waterings = asked.queries.history("terrace", NOW_MS - DAY_MS, NOW_MS).waterings
    assert [at_ms for at_ms, _ in waterings] == [NOW_MS - 5 * HOUR_MS, NOW_MS - 3 * HOUR_MS]
    assert [litres for _, litres in waterings] == pytest.approx([40.0, np.nan], nan_ok=True)


def test_a_history_of_a_bed_with_no_probe_is_empty_and_not_an_error():
    bare = replace(bed(), probes=())
    history = Asked(bare).queries.history("terrace", NOW_MS - DAY_MS, NOW_MS)
    assert (history.temperatures, history.moistures) == ((), ())
    assert np.isnan(history.profile_c).all()
    assert len(history.grid_depths_m) == 41


def test_a_span_that_ends_before_it_begins_is_refused():
    with pytest.raises(QuestionError, match="want an end after the beginning"):
        Asked().queries.history("terrace", NOW_MS, NOW_MS)


# ---------------------------------------------------------------- what the grower says


def test_a_job_marked_done_shows_as_done_and_may_be_taken_back_for_ten_minutes():
    asked = Asked().fill(moisture=DRY)
    asked.queries.mark_done("terrace", Job.WATER)
    assert [(worded.flag, worded.button) for worded in asked.queries.bed("terrace").calls] == [("Done at 9:00", None)]
    asked.clock.pass_s(9 * 60)
    asked.queries.undo("terrace", Job.WATER)
    assert [worded.call.due for worded in asked.queries.bed("terrace").calls] == [Due.DUE]


def test_after_ten_minutes_there_is_nothing_to_take_back():
    asked = Asked().fill(moisture=DRY)
    asked.queries.mark_done("terrace", Job.WATER)
    asked.clock.pass_s(10 * 60 + 1)
    with pytest.raises(QuestionError, match="nothing was marked done in the last 10 minutes"):
        asked.queries.undo("terrace", Job.WATER)
    assert asked.season.done_marks(0, 2**62)[0].undone_ms is None


def test_what_was_asked_for_at_the_tap_is_what_was_given_also_when_the_probes_have_found_it():
    asked = Asked().fill(moisture=DRY)
    asked.queries.mark_done("terrace", Job.WATER)
    assert [mark.litres for mark in asked.season.done_marks(0, 2**62)] == [pytest.approx(86.4)]
    asked.clock.pass_s(5 * 60)
    asked.readings.say(M15, 0.20, asked.clock.now_ms())
    (done,) = asked.queries.bed("terrace").calls
    assert done.sentence.startswith("Watered 86 litres.")


def test_a_watering_ahead_of_time_is_what_is_lacking_now_and_not_what_would_be_by_then():
    asked = Asked().fill(moisture=0.20)  # 30 mm/m times 0.3 m: 9 mm, which on 7.2 m² are 65 litres
    asked.season.keep_outlook(outlook(depletion_mm=lambda hour: 9.0 + hour / 25))
    (soon,) = asked.queries.bed("terrace").calls
    assert (soon.call.job, soon.call.due) == (Job.WATER, Due.SOON)
    asked.queries.mark_done("terrace", Job.WATER)
    assert [mark.litres for mark in asked.season.done_marks(0, 2**62)] == [pytest.approx(64.8)]


def test_a_job_other_than_watering_is_marked_without_litres():
    asked = Asked().fill((20.0, 18.6, 17.0), moisture=DRY)
    asked.queries.mark_done("terrace", Job.SHADE)
    assert [mark.litres for mark in asked.season.done_marks(0, 2**62)] == [None]


def test_a_job_in_an_unknown_bed_cannot_be_done():
    asked = Asked()
    for ask in (asked.queries.mark_done, asked.queries.undo):
        with pytest.raises(QuestionError, match="no such bed"):
            ask("gate", Job.WATER)
    assert asked.season.entries(0, 2**62) == ()


def test_only_addresses_that_no_probe_claims_by_now_are_unclaimed():
    asked = Asked()
    asked.readings.strangers = [Unclaimed(address, "Cel", NOW_MS, 17.0, NOW_MS, "mqtt x") for address in ("urn:new", T12.address)]
    assert [one.address for one in asked.queries.claims.strangers()] == ["urn:new"]
    assert asked.queries.garden().unclaimed == 1


# ---------------------------------------------------------------- how the collector is


def test_a_collector_that_reports_and_hears_is_well():
    health = Asked().fill().queries.health()
    assert (health.well, health.status, health.last_reading_age_s) == (True, "Readings come in.", 0.0)


@pytest.mark.parametrize(("age_ms", "well"), [(60 * MINUTE_MS, True), (61 * MINUTE_MS, True), (121 * MINUTE_MS, False)])
def test_without_readings_for_an_hour_or_twelve_of_the_usual_intervals_it_is_not_well(age_ms, well):
    asked = Asked().fill(times=every(10 * MINUTE_MS, NOW_MS - age_ms - HOUR_MS, NOW_MS - age_ms))
    health = asked.queries.health()
    assert (health.well, health.last_reading_age_s) == (well, age_ms / 1000)
    assert ("No reading has come in since" in health.status) is not well


class AwayReadings(FakeReadings):
    """The series store cannot be asked; what is known beside it can."""

    def series(self, *_):
        raise StoreBusyError("InfluxDB is away")

    def latest(self):
        raise StoreBusyError("InfluxDB is away")

    def counts(self):
        return replace(super().counts(), waiting=7)


@pytest.mark.parametrize(("age_ms", "well"), [(60 * MINUTE_MS, True), (61 * MINUTE_MS, False)])
def test_health_is_told_while_the_series_store_is_away_with_what_waits_for_it(age_ms, well):
    asked = Asked()
    asked.readings = AwayReadings()
    asked.queries = SoilQueries(garden(bed()), asked.readings, asked.season, asked.clock)
    asked.fill(times=every(10 * MINUTE_MS, NOW_MS - age_ms - HOUR_MS, NOW_MS - age_ms))
    health = asked.queries.health()
    assert (health.well, health.queue_depth, health.last_reading_age_s) == (well, 7, age_ms / 1000)


def test_a_collector_that_never_heard_anything_is_not_well_and_its_age_is_not_known():
    health = Asked().queries.health()
    assert (health.well, health.last_reading_age_s, health.status) == (False, None, "No reading has come in yet.")


def test_a_collector_that_never_reported_is_not_well():
    asked = Asked().fill()
    asked.season.word = None
    assert not asked.queries.health().well
    assert asked.queries.garden().trouble == ("The collector has not reported yet. Is it running?",)


def test_a_collector_that_stops_reporting_is_missed():
    asked = Asked().fill()
    asked.queries.health()
    asked.clock.pass_s(150)
    assert asked.queries.garden().trouble == ("The collector has not reported since 9:00. Is it running?",)
    asked.season.word = Report(asked.clock.now_ms())
    assert asked.queries.garden().trouble == ()


def test_on_a_fast_clock_a_report_that_is_old_by_it_is_missed_only_when_it_has_stood():
    asked = Asked().fill()
    for _ in range(5):
        asked.clock.at_ms += 25 * MINUTE_MS  # ten seconds of the machine's are 25 minutes of the simulated garden's
        asked.clock.at_s += 10
        assert asked.queries.garden().trouble == ()
        asked.season.word = Report(asked.clock.now_ms())


def test_troubles_that_the_collector_left_word_of_are_told_on_the_page_and_in_health():
    asked = Asked().fill()
    asked.season.word = Report(NOW_MS, ("The broker at 127.0.0.1:1883 is away.",))
    assert asked.queries.garden().trouble == ("The broker at 127.0.0.1:1883 is away.",)
    assert asked.queries.health().status == "The broker at 127.0.0.1:1883 is away."


def test_refusals_are_counted():
    asked = Asked().fill()
    asked.readings.refusals = 7
    assert asked.queries.health().refused_total == 7


# ---------------------------------------------------------------- catching up


def in_backlog(asked, days_behind, came_ms=NOW_MS):
    """The bed's probes as after an outage: what has just come was measured days ago."""
    times = every(10 * MINUTE_MS, NOW_MS - (days_behind + 1) * DAY_MS, NOW_MS - days_behind * DAY_MS)
    asked.fill(times=times)
    for each in (T5, T12, T20, M15):
        said = asked.readings.said[each.id]
        said[max(said)] = msgspec.structs.replace(said[max(said)], received_ms=came_ms)
    return asked


def test_while_a_backlog_comes_in_the_garden_says_up_to_when_it_is_and_no_bed_is_called_silent():
    queries = in_backlog(Asked(), days_behind=10).queries
    view = queries.garden()
    (terrace,) = view.beds
    assert (terrace.heard, terrace.calls, terrace.fine) == (Heard.BEHIND, (), None)
    assert terrace.behind == "Catching up: readings up to 3 April are in."
    assert view.trouble == (terrace.behind,)
    assert queries.health().status == terrace.behind


def test_old_readings_that_came_long_ago_are_a_silence_and_not_a_backlog():
    view = in_backlog(Asked(), days_behind=10, came_ms=NOW_MS - HOUR_MS).queries.garden()
    assert (view.beds[0].heard, view.beds[0].behind, view.trouble) == (Heard.SILENT, None, ())
    assert [worded.call.job for worded in view.beds[0].calls] == [Job.LOOK]


def test_one_bed_that_catches_up_is_no_trouble_of_the_whole_garden():
    asked = in_backlog(Asked(bed(), bed(bed_id="north")), days_behind=10).fill(bed_id="north")
    view = asked.queries.garden()
    assert {each.bed.id: each.heard for each in view.beds} == {"terrace": Heard.BEHIND, "north": Heard.FRESH}
    assert view.trouble == ()


# ---------------------------------------------------------------- on the real stores


def test_the_same_answers_come_from_sqlite(tmp_path):
    asked = Asked().fill(moisture=DRY)
    path = tmp_path / "garden.db"
    store, readings, season = SqliteReadingStore(path), SqliteReadings(path), SqliteSeason(path)
    try:
        store.commit(Batch(readings=tuple(one for said in asked.readings.said.values() for one in said.values())))
        season.report((), NOW_MS)
        stored = SoilQueries(garden(bed()), readings, season, asked.clock)
        assert replace(stored.bed("terrace"), state=None) == replace(asked.queries.bed("terrace"), state=None)
        assert stored.health() == asked.queries.health()
        stored.mark_done("terrace", Job.WATER)
        assert [worded.call.due for worded in stored.bed("terrace").calls] == [Due.DONE]
        stored.undo("terrace", Job.WATER)
        assert [worded.call.due for worded in stored.bed("terrace").calls] == [Due.DUE]
        with pytest.raises(QuestionError):
            stored.mark_seen(1)
    finally:
        for each in (season, readings, store):
            each.close()


def test_a_dashboard_that_starts_before_its_collector_sees_an_empty_garden(tmp_path):
    path = tmp_path / "garden.db"
    readings, season = SqliteReadings(path), SqliteSeason(path)
    try:
        view = SoilQueries(garden(bed()), readings, season, FakeClock()).garden()
        assert view.beds[0].heard is Heard.NEVER
    finally:
        season.close()
        readings.close()
