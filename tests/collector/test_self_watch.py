"""What the collector tells of itself: a disk that fills, its own absence, silence of every stake."""

from __future__ import annotations

import pytest

from collector.advice.views import Health
from collector.advice.voice import voice_of
from collector.calls import Due, Report
from collector.errors import StoreError
from collector.self_watch import FIRST_LOOK_MS, MINUTE_MS, Absence, DiskWatch, SilenceWatch, room_in
from tests.fakes import NOW_MS
from tests.fakes_advice import DAY_MS, HOUR_MS, bed, garden

VOICE = voice_of(garden(bed()))
MB = 1_000_000


def test_a_disk_that_fills_is_told_twice_and_over_only_when_there_is_some_room_to_spare(tmp_path):
    left = [5000 * MB]
    disk = DiskWatch(tmp_path, lambda _folder: (left[0], 32_000 * MB))
    assert disk.look() is None
    left[0] = 999 * MB
    due, text = disk.look()
    assert due is Due.SOON
    assert text.startswith(f"999 MB are left on the disk that holds {tmp_path}. When none is, readings wait at the broker")
    left[0] = 1100 * MB  # to and fro about the threshold is no news
    assert disk.look()[0] is Due.SOON
    left[0] = 150 * MB
    assert disk.look()[0] is Due.DUE
    left[0] = 1300 * MB
    assert disk.look() is None


def test_a_disk_that_cannot_be_asked_is_told_too(tmp_path):
    assert room_in(tmp_path)[0] > 0
    due, text = DiskWatch(tmp_path / "gone").look()
    assert (due, text) == (Due.SOON, "The disk of the store cannot be asked how full it is: No such file or directory.")


@pytest.mark.parametrize(("away_ms", "told"), [(14 * MINUTE_MS, False), (15 * MINUTE_MS, True), (3 * DAY_MS, True)])
def test_an_absence_is_told_at_the_next_start_for_a_day(away_ms, told):
    absent = Absence(Report(NOW_MS - away_ms, ()), NOW_MS, VOICE)
    alarm = absent.look(NOW_MS)
    assert (alarm is not None) == told
    assert absent.look(NOW_MS + DAY_MS) is None
    if alarm is not None:
        since = VOICE.when(NOW_MS - away_ms, NOW_MS)
        assert alarm[1].startswith(f"The collector was not running from {since} until {VOICE.clock(NOW_MS)}.")


def test_one_that_was_never_there_before_was_not_away():
    assert Absence(None, NOW_MS, VOICE).look(NOW_MS) is None


def health(well, age_s):
    return Health("No reading has come in since 11:00." if not well else "Readings come in.", well, age_s, 0, 0)


def test_that_no_stake_speaks_is_told_once_what_waited_is_in_and_more_pressingly_after_a_day():
    found = [health(False, 2 * 3600.0)]
    watch = SilenceWatch(lambda: found[0], True, NOW_MS)
    assert watch.look(NOW_MS + FIRST_LOOK_MS - 1) is None
    due, text = watch.look(NOW_MS + FIRST_LOOK_MS)
    assert due is Due.SOON
    assert text.startswith("No reading has come in since 11:00. No stake speaks: look at the broker")
    found[0] = health(True, 10.0)
    assert watch.look(NOW_MS + FIRST_LOOK_MS + 1) == (due, text)  # it is not asked at every step
    assert watch.look(NOW_MS + FIRST_LOOK_MS + MINUTE_MS) is None
    found[0] = health(False, 25 * 3600.0)
    assert watch.look(NOW_MS + HOUR_MS)[0] is Due.DUE


def test_a_garden_without_probes_and_one_that_never_spoke_are_no_news_and_a_store_that_is_away_says_nothing():
    assert SilenceWatch(lambda: health(False, 9e9), False, NOW_MS).look(NOW_MS + HOUR_MS) is None
    assert SilenceWatch(lambda: health(False, None), True, NOW_MS).look(NOW_MS + HOUR_MS) is None

    def away():
        raise StoreError("gone")

    assert SilenceWatch(away, True, NOW_MS).look(NOW_MS + HOUR_MS)[0] is Due.NOT_KNOWN
