"""Public weather is asked for seldom, kept over restarts, and used while it is fresh; a net that is away is a sentence."""

import itertools
import re
import sqlite3

import pytest

from collector.errors import StoreBusyError, WeatherError
from collector.settings import WeatherSettings
from collector.stores.season import SqliteSeason
from collector.weather.open_meteo import OpenMeteo
from collector.weather.public import PublicWeather
from tests.collector.weather.made import HOUR_MS, TODAY_S, body
from tests.fakes import NOW_MS, FakeClock

HOUR_S = 3600
AWAY = "http://weather.example.org cannot be reached (no route); is the internet there?"


class FakeService:
    """Says what `says` holds: a body, or an error that it raises. It reads answers as the real one does."""

    name = "weather http://weather.example.org"
    attribution = "Weather data by nobody, CC BY 4.0"

    def __init__(self, asked="lat=37.12"):
        self.asked = asked
        self.says = body()
        self.times = 0
        self.read = OpenMeteo(WeatherSettings("open-meteo", "http://weather.example.org"), 37.12, -7.0).read

    def fetch(self):
        self.times += 1
        if isinstance(self.says, WeatherError):
            raise self.says
        return self.says


class FakeKeep:
    """Keeps one answer; `fail` is what its next write raises."""

    def __init__(self):
        self.kept = None
        self.fail = None

    def keep_weather(self, asked, at_ms, body):
        if self.fail:
            raise self.fail
        self.kept = (asked, at_ms, body)

    def kept_weather(self, asked):
        return self.kept[1:] if self.kept and self.kept[0] == asked else None


@pytest.fixture
def clock():
    return FakeClock()


@pytest.fixture
def service():
    return FakeService()


@pytest.fixture
def keep():
    return FakeKeep()


@pytest.fixture
def public(service, keep, clock):
    return PublicWeather(service, keep, clock, every_h=3)


def ask_for_hours(public, clock, hours, step_s=300):
    """What `ahead` gives at each step of that many hours."""
    given = []
    for _ in range(round(hours * HOUR_S / step_s)):
        given.append(public.ahead(clock.now_ms()))
        clock.pass_s(step_s)
    return given


def test_the_first_look_asks_and_gives_past_weather_and_a_week_ahead(public, service, clock):
    weather = public.ahead(NOW_MS)
    assert service.times == 1
    assert weather.time_ms[0] < NOW_MS - 90 * 24 * HOUR_MS
    assert weather.time_ms[-1] >= NOW_MS + 7 * 24 * HOUR_MS
    assert (public.trouble, public.as_of_ms) == (None, NOW_MS)
    assert (public.name, public.attribution) == (service.name, service.attribution)


def test_it_is_asked_no_more_often_than_the_garden_file_says(public, service, clock):
    given = ask_for_hours(public, clock, 24)
    assert service.times == 8
    assert all(weather is not None for weather in given)


def test_an_answer_two_days_old_still_looks_a_week_ahead(public, service, clock):
    clock.at_ms = TODAY_S * 1000 + 24 * HOUR_MS - 60_000  # the last minute of the day that the answer begins with
    public.ahead(clock.now_ms())
    service.says = WeatherError(AWAY)
    clock.pass_s(48 * HOUR_S)
    weather = public.ahead(clock.now_ms())
    assert weather.time_ms[-1] >= clock.now_ms() + 7 * 24 * HOUR_MS


def test_while_the_net_is_away_the_last_answer_serves_for_48_hours_and_no_longer(public, service, clock):
    first = public.ahead(NOW_MS)
    service.says = WeatherError(AWAY)
    clock.pass_s(48 * HOUR_S)
    assert public.ahead(clock.now_ms()) is first
    assert public.trouble == f"{AWAY}; its answer of 2026-04-13T08:00:00.000Z serves for up to 48 h"
    assert public.as_of_ms == NOW_MS
    clock.pass_s(1)
    assert public.ahead(clock.now_ms()) is None
    assert public.trouble == f"{AWAY}; until it answers, forecasts do without it"
    assert public.as_of_ms is None


def test_after_failures_it_waits_longer_each_time_up_to_the_usual_pace_and_never_raises(public, service, clock):
    service.says = WeatherError(AWAY)
    asked_at_s = []
    for _ in range(24 * 60):
        before = service.times
        assert public.ahead(clock.now_ms()) is None
        if service.times > before:
            asked_at_s.append(clock.elapsed_s())
        clock.pass_s(60)
    waits_min = [round((later - earlier) / 60) for earlier, later in itertools.pairwise(asked_at_s)]
    assert waits_min[:5] == [10, 20, 40, 80, 160]
    assert set(waits_min[5:]) == {180}


def test_years_of_failures_do_no_harm(public, service, clock):
    service.says = WeatherError(AWAY)
    for _ in range(3000):
        public.ahead(clock.now_ms())
        clock.pass_s(3 * HOUR_S)
    assert service.times == 3000


def test_a_service_that_wants_to_be_left_alone_is(public, service, clock):
    service.says = WeatherError("answered 429", wait_s=2 * HOUR_S)
    ask_for_hours(public, clock, 2)
    assert service.times == 1
    public.ahead(clock.now_ms())
    assert service.times == 2


def test_one_good_answer_ends_the_trouble_and_the_long_waits(public, service, clock):
    service.says = WeatherError(AWAY)
    ask_for_hours(public, clock, 3)
    service.says = body()
    ask_for_hours(public, clock, 3)
    assert public.trouble is None
    service.says = WeatherError(AWAY)
    ask_for_hours(public, clock, 3)
    failed = service.times
    clock.pass_s(600)
    ask_for_hours(public, clock, 0.25)
    assert public.trouble.startswith(AWAY)
    assert service.times > failed


@pytest.mark.parametrize(
    ("says", "told"),
    [
        ("<html>sign in</html>", "not as documented"),
        (body()[:-40], "not as documented"),
        (body(units={"temperature_2m": "°F"}), "comes in '°F'"),
        (body(temperature_2m=[None] * 103 * 24), "not one hour"),
        (body(hours=48), r"ends at 2026-01-\d\dT23:00:00\.000Z and here it is 2026-04-13T08:00:00\.000Z; want at least a day"),
    ],
)
def test_an_answer_that_is_no_use_is_told_and_the_old_one_stays_in_hand_and_in_the_store(
    public, service, keep, clock, says, told
):
    first = public.ahead(NOW_MS)
    kept = keep.kept
    service.says = says
    clock.pass_s(3 * HOUR_S)
    clock.at_ms = NOW_MS  # so that the last case knows what time it is
    assert public.ahead(NOW_MS) is first
    assert service.times == 2
    assert keep.kept == kept
    assert re.search(told, public.trouble)


def test_a_restart_takes_up_the_kept_answer_and_asks_only_when_it_is_due(tmp_path, service, clock):
    first = SqliteSeason(tmp_path / "garden.db")
    weather = PublicWeather(service, first, clock, every_h=3).ahead(NOW_MS)
    first.close()
    clock.pass_s(2 * HOUR_S)
    again = SqliteSeason(tmp_path / "garden.db")
    public = PublicWeather(service, again, clock, every_h=3)
    assert public.ahead(clock.now_ms()).time_ms.tolist() == weather.time_ms.tolist()
    assert (service.times, public.as_of_ms) == (1, NOW_MS)
    clock.pass_s(HOUR_S)
    public.ahead(clock.now_ms())
    assert (service.times, public.as_of_ms) == (2, clock.now_ms())
    again.close()


@pytest.mark.parametrize(
    ("kept", "why"),
    [
        (("lat=37.12", NOW_MS - 49 * HOUR_MS, body()), "too old"),
        (("lat=37.12", NOW_MS + HOUR_MS, body()), "from a clock that was wrong"),
        (("lat=50.00", NOW_MS - HOUR_MS, body()), "of another place"),
        (("lat=37.12", NOW_MS - HOUR_MS, "what is this"), "no longer understood"),
    ],
)
def test_a_kept_answer_that_is_no_good_is_left_aside(public, service, keep, kept, why):
    keep.kept = kept
    service.says = WeatherError(AWAY)
    assert public.ahead(NOW_MS) is None, why
    assert service.times == 1


def test_a_clock_that_jumps_years_ahead_makes_the_answer_old_and_asks_anew_soon_after(public, service, clock):
    public.ahead(NOW_MS)
    clock.at_ms += 365 * 24 * HOUR_MS
    service.says = WeatherError(AWAY)
    assert public.ahead(clock.now_ms()) is None
    assert service.times == 1
    clock.pass_s(600)
    public.ahead(clock.now_ms())
    assert service.times == 2


def test_a_clock_that_is_put_back_does_not_make_the_answer_young_again(public, service, clock):
    public.ahead(NOW_MS)
    service.says = WeatherError(AWAY)
    clock.at_s += 49 * HOUR_S
    clock.at_ms = NOW_MS - HOUR_MS
    assert public.ahead(clock.now_ms()) is None


def test_a_store_that_is_busy_says_so_and_the_answer_is_used_all_the_same(public, service, keep, clock):
    keep.fail = StoreBusyError("the disk is full")
    with pytest.raises(StoreBusyError):
        public.ahead(NOW_MS)
    assert public.ahead(NOW_MS) is not None
    assert service.times == 1


def test_only_one_answer_is_kept(tmp_path, service, clock):
    season = SqliteSeason(tmp_path / "garden.db")
    public = PublicWeather(service, season, clock, every_h=1)
    ask_for_hours(public, clock, 5)
    assert season.kept_weather("lat=37.12") == (NOW_MS + 4 * HOUR_MS, service.says)
    assert season.kept_weather("lat=50.00") is None
    season.close()
    with sqlite3.connect(tmp_path / "garden.db") as connection:
        assert connection.execute("SELECT count(*) FROM weather").fetchone() == (1,)
    connection.close()
