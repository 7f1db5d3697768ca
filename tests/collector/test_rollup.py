"""Rollups: the numbers of each step, judged by pandas, and true at every moment in every store."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from collector.model import DISTRUSTED, Batch, Flag, Series
from collector.rollup import NOTHING, Every, coarser, steps_from, steps_of, sums_of, together
from collector.stores import rollups
from collector.stores.schema import Writer
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from collector.stores.upkeep import DAY_MS, Upkeep
from tests.collector.made_readings import MINUTE_MS, NOON_MS, reading
from tests.fakes import FakeClock

ALL = (-(2**52), 2**52)
RULES = {Every.TEN_MINUTES: "10min", Every.HOUR: "1h", Every.DAY: "1D"}
VALUES = st.floats(-1e6, 1e6, allow_subnormal=False)
TIMES = st.integers(-3 * 86_400_000, 3 * 86_400_000)


def series(points, probe_id="t12"):
    time_ms, value = (np.array(column) for column in zip(*sorted(points.items()), strict=True)) if points else ([], [])
    return Series(probe_id, np.array(time_ms, np.int64), np.array(value, np.float64), np.zeros(len(points), np.int64))


def by_pandas(points, every):
    """The same by another hand: pandas' resample, which begins its steps at the epoch too."""
    frame = pd.Series(points, dtype=float)
    frame.index = pd.to_datetime(frame.index, unit="ms")
    told = frame.resample(RULES[every], origin="epoch").agg(["min", "mean", "max", "count"])
    return told[told["count"] > 0]


def told(steps):
    return list(zip(steps.begin_ms.tolist(), steps.least.tolist(), steps.most.tolist(), steps.count.tolist(), strict=True))


@pytest.mark.parametrize("every", list(Every))
@given(points=st.dictionaries(TIMES, VALUES, min_size=1, max_size=60))
def test_steps_are_those_that_pandas_makes(every, points):
    steps, judge = steps_of(series(points), every), by_pandas(points, every)
    assert steps.begin_ms.tolist() == (judge.index.astype("datetime64[ns]").astype(np.int64) // 1_000_000).tolist()
    assert steps.least.tolist() == judge["min"].tolist()
    assert steps.most.tolist() == judge["max"].tolist()
    assert steps.count.tolist() == judge["count"].tolist()
    assert steps.mean == pytest.approx(judge["mean"].to_numpy(), rel=1e-9, abs=1e-6)
    in_step = [[at for at in points if at // every == begin // every] for begin in steps.begin_ms.tolist()]
    assert steps.time_ms == pytest.approx([np.mean(ats) for ats in in_step], abs=1.0)


@given(points=st.dictionaries(TIMES, VALUES, min_size=1, max_size=60), cut=TIMES)
def test_long_steps_made_of_short_ones_and_of_parts_are_the_same(points, cut):
    whole = series(points)
    parts = [
        sums_of(one.time_ms, one.value, Every.TEN_MINUTES)
        for one in (whole.within(*ALL).within(ALL[0], cut), whole.within(cut, ALL[1]))
    ]
    tens = together(parts)
    hours = coarser(tens, Every.TEN_MINUTES, Every.HOUR)
    for every, sums in ((Every.TEN_MINUTES, tens), (Every.HOUR, hours), (Every.DAY, coarser(hours, Every.HOUR, Every.DAY))):
        direct = steps_of(whole, every)
        made = steps_from("t12", sums, every)
        assert told(made) == told(direct)
        assert made.mean == pytest.approx(direct.mean, rel=1e-9, abs=1e-6)
        assert (abs(made.time_ms - direct.time_ms) <= 1).all()


def test_nothing_rolls_up_to_nothing():
    assert steps_of(series({}), Every.HOUR).count.size == 0
    assert together([]).place.size == together([NOTHING, NOTHING]).place.size == 0


def test_a_probe_that_speaks_no_oftener_than_a_step_is_told_exactly():
    points = {NOON_MS + 601_234 * number: 10.0 + number for number in range(20)}
    line = steps_of(series(points), Every.TEN_MINUTES).means()
    assert dict(zip(line.time_ms.tolist(), line.value.tolist(), strict=True)) == points


def test_a_line_keeps_its_peaks_and_troughs():
    minutes = {NOON_MS + MINUTE_MS * number: float(np.sin(2 * np.pi * number / 240.0)) for number in range(480)}
    line = steps_of(series(minutes), Every.TEN_MINUTES).line()
    assert (line.value.max(), line.value.min()) == (max(minutes.values()), min(minutes.values()))
    assert line.time_ms.size == 48


# ---------------------------------------------------------------- every store


def said(readings, every, from_ms=0, to_ms=2**42, probe_id="t12"):
    return readings.steps(probe_id, from_ms, to_ms, every)


def agrees(readings, every, probe_id="t12"):
    """The rollups of a store are those of its own series."""
    found, judge = said(readings, every, probe_id=probe_id), steps_of(readings.series(probe_id, 0, 2**42), every)
    assert told(found) == told(judge)
    assert found.mean == pytest.approx(judge.mean)
    return found


@pytest.mark.parametrize("every", list(Every))
def test_a_store_tells_steps_of_what_may_be_believed(store, readings, every):
    store.commit(Batch(readings=tuple(reading(minute=minute, value=minute / 16) for minute in range(180))))
    store.commit(Batch(readings=(reading(minute=7, value=99.0, flags=Flag.JUMP), reading("other", 3, 50.0))))
    found = agrees(readings, every)
    assert found.count.sum() == 179
    assert found.most.max() < 50.0


def test_a_span_is_of_steps_that_begin_in_it_and_they_are_whole(store, readings):
    store.commit(Batch(readings=tuple(reading(minute=minute, value=float(minute)) for minute in range(180))))
    found = said(readings, Every.HOUR, NOON_MS + 1, NOON_MS + 60 * MINUTE_MS + 1)
    assert told(found) == [(NOON_MS + 60 * MINUTE_MS, 60.0, 119.0, 60)]
    assert said(readings, Every.HOUR, NOON_MS, NOON_MS).count.size == 0
    assert said(readings, Every.DAY, probe_id="nobody").count.size == 0


def test_marks_late_and_corrected_readings_change_the_steps_they_lie_in(store, readings):
    store.commit(Batch(readings=tuple(reading(minute=minute) for minute in range(0, 120, 2))))
    agrees(readings, Every.HOUR)
    store.mark("t12", NOON_MS, NOON_MS + 30 * MINUTE_MS, Flag.DUG_UP, on=True)
    assert agrees(readings, Every.HOUR).count.tolist() == [15, 30]
    store.mark("t12", NOON_MS, NOON_MS + 30 * MINUTE_MS, Flag.DUG_UP, on=False)
    store.commit(Batch(readings=(reading(minute=1, value=40.0), reading(minute=2, value=-3.0))))
    assert told(agrees(readings, Every.HOUR))[0][1:] == (-3.0, 40.0, 31)


# ---------------------------------------------------------------- SQLite, with the upkeep anywhere between


class Kept:
    """A SQLite store with an upkeep whose clock stands far ahead, so that every step is over."""

    def __init__(self, path, keep_raw_days=None, now_ms=NOON_MS + 400 * DAY_MS):
        self.path = path
        self.store, self.readings = SqliteReadingStore(path), SqliteReadings(path)
        self.upkeep = Upkeep(path, keep_raw_days, FakeClock(now_ms))

    def work(self):
        """All there is to do; says how many portions."""
        portions = 0
        while self.upkeep.work():
            portions += 1
        return portions

    def asked(self, question):
        with Writer(self.path).reading() as connection:
            return connection.execute(question).fetchall()

    def close(self):
        for one in (self.upkeep, self.readings, self.store):
            one.close()


@pytest.fixture
def kept(tmp_path):
    made = Kept(tmp_path / "garden.db")
    yield made
    made.close()


def test_the_upkeep_rolls_up_all_that_is_over_and_nothing_stays_stale(kept):
    kept.store.commit(
        Batch(readings=tuple(reading(f"p{probe}", minute, minute / 7) for probe in range(3) for minute in range(2000)))
    )
    before = [told(said(kept.readings, every, probe_id="p1")) for every in Every]
    assert kept.work() > 0
    assert kept.asked("SELECT count(*) FROM stale") == [(0,)]
    assert kept.asked("SELECT minutes, count(*) FROM rollup GROUP BY minutes") == [(10, 600), (60, 102), (1440, 6)]
    assert [told(said(kept.readings, every, probe_id="p1")) for every in Every] == before
    assert kept.work() == 0


def test_the_ten_minutes_that_are_not_over_wait(tmp_path):
    here = Kept(tmp_path / "garden.db", now_ms=NOON_MS + 15 * MINUTE_MS)
    here.store.commit(Batch(readings=tuple(reading(minute=minute) for minute in range(16))))
    here.work()
    assert here.asked("SELECT place * 600000 FROM stale") == [(NOON_MS + 10 * MINUTE_MS,)]
    assert agrees(here.readings, Every.HOUR).count.tolist() == [16]
    here.close()


MOVES = st.one_of(
    st.tuples(st.just("say"), st.integers(0, 40), VALUES, st.sampled_from([Flag.NONE, Flag.JUMP, Flag.STUCK])),
    st.tuples(st.just("beside"), st.integers(0, 40), VALUES, st.just(Flag.NONE)),
    st.tuples(st.just("mark"), st.integers(0, 40), st.integers(1, 40), st.booleans()),
    st.tuples(st.just("work"), st.just(0), st.just(0), st.just(0)),
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(MOVES, max_size=25))
def test_whatever_is_written_marked_and_rolled_in_any_order_steps_are_those_of_the_readings(tmp_path_factory, moves):
    here = Kept(tmp_path_factory.mktemp("store") / "garden.db")
    for move, place, more, last in moves:
        if move == "say":
            here.store.commit(Batch(readings=(reading(minute=5 * place, value=more, flags=last),)))
        elif move == "beside":
            here.store.commit(Batch(beside=(reading(minute=5 * place, value=more, flags=last),)))
        elif move == "mark":
            span = (NOON_MS + 5 * place * MINUTE_MS, NOON_MS + 5 * (place + more) * MINUTE_MS)
            here.store.mark("t12", *span, Flag.DUG_UP, on=last)
        else:
            here.work()
        for every in Every:
            agrees(here.readings, every)
    here.close()


# ---------------------------------------------------------------- raw readings that go


def pruned(path, days=150, keep=120):
    """A store of that many days, hourly but for the last, of which so many are kept raw; and its steps before."""
    here = Kept(path, keep, NOON_MS + days * DAY_MS)
    here.store.commit(Batch(readings=tuple(reading(minute=60 * hour, value=float(hour % 24)) for hour in range(24 * days))))
    before = {every: told(said(here.readings, every)) for every in Every}
    here.work()
    return here, before


def test_raw_readings_go_after_their_days_and_their_steps_stay(tmp_path):
    here, before = pruned(tmp_path / "garden.db")
    left = here.readings.series("t12", 0, 2**62).time_ms
    first_kept_ms = (NOON_MS + 30 * DAY_MS) // DAY_MS * DAY_MS
    assert left[0] == first_kept_ms
    assert here.readings.pruned_before_ms() == {"t12": first_kept_ms}
    assert {every: told(said(here.readings, every)) for every in Every} == before
    here.close()


def test_a_reading_that_comes_late_for_what_went_is_added_and_does_not_stay(tmp_path):
    here, before = pruned(tmp_path / "garden.db")
    here.store.commit(Batch(readings=(reading(minute=5, value=70.0),)))
    for _ in range(2):  # before the upkeep has seen it, and after
        assert told(said(here.readings, Every.HOUR))[0] == (NOON_MS, 0.0, 70.0, 2)
        assert told(said(here.readings, Every.HOUR))[1:] == before[Every.HOUR][1:]
        here.work()
    assert here.readings.series("t12", 0, NOON_MS + DAY_MS).time_ms.size == 0
    here.close()


def test_the_newest_reading_of_a_silent_probe_stays_however_old(tmp_path):
    here = Kept(tmp_path / "garden.db", 120, NOON_MS + 900 * DAY_MS)
    here.store.commit(Batch(readings=tuple(reading(minute=minute) for minute in range(100))))
    here.work()
    assert here.readings.latest()["t12"].measured_ms == NOON_MS + 99 * MINUTE_MS
    assert 1 <= here.readings.series("t12", 0, 2**62).time_ms.size <= 10
    here.close()


def test_what_is_stale_is_not_let_go(tmp_path):
    here = Kept(tmp_path / "garden.db", 120, NOON_MS + 900 * DAY_MS)
    here.store.commit(Batch(readings=tuple(reading(minute=minute) for minute in range(100))))
    with Writer(here.path).transaction() as connection:
        assert rollups.prune(connection, NOON_MS + 500 * DAY_MS, 10) == 0
    assert here.readings.series("t12", 0, 2**62).time_ms.size == 100
    here.close()


def test_pruning_goes_in_portions(tmp_path):
    here = Kept(tmp_path / "garden.db")
    here.store.commit(Batch(readings=tuple(reading(f"p{probe}", minute) for probe in range(2) for minute in range(1000))))
    here.work()
    portions = []
    with Writer(here.path).transaction() as connection:
        while gone := rollups.prune(connection, NOON_MS + 500 * DAY_MS, 100):
            portions.append(gone)
    assert max(portions) <= 110
    assert sum(portions) >= 1980
    here.close()


def test_only_what_cannot_be_believed_is_in_no_step():
    """The flags that keep a reading out are those that keep it out of every picture (`Series.trusted`)."""
    for flag in Flag:
        one = Series("t12", np.array([NOON_MS]), np.array([1.0]), np.array([int(flag)]))
        assert steps_of(one, Every.HOUR).count.sum() == (0 if flag & DISTRUSTED else 1)
