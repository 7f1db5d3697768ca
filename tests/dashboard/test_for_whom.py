"""Who signed in to look changes nothing, by whatever door; who signed in to write does."""

import re
from inspect import getsource

import pytest
from argon2 import PasswordHasher

from collector.calls import Due, Job, Memory, Notice
from collector.errors import CooldepthError, QuestionError
from collector.query import SoilQueries
from dashboard import for_whom, wsgi
from dashboard.app import make_app
from dashboard.for_whom import CHANGES, CHANGES_OF, REFUSED
from tests.dashboard.test_app import GARDEN_FILE
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import HOUR_MS, FakeReadings, FakeSeason, M, bed, every, garden, probe

QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
WRITES, LOOKS = "straw and compost", "only to look at"
HASH, VIEWER = QUICK.hash(WRITES), QUICK.hash(LOOKS)


def opened(password):
    """A browser that signed in with a password, and the season behind it."""
    readings, season = FakeReadings(), FakeSeason()
    readings.counts = lambda: None
    readings.say(probe(M, 0.15), 0.17, *every(HOUR_MS, NOW_MS - 30 * HOUR_MS, NOW_MS))
    season.record([Memory("terrace", Job.WATER, Due.DUE)], [(Notice(0, NOW_MS, "terrace", Job.WATER, "Water", "Dry."), [])])
    whole = garden(bed())
    app = make_app(SoilQueries(whole, readings, season, FakeClock()), whole, HASH, None, VIEWER)
    client = app.server.test_client()
    assert client.post("/sign-in", data={"password": password}).status_code == 303
    client.get("/")  # dash sets its router up at the first request
    return client, season


def callback(client, output, *, inputs, state=()):
    """Call a callback of the app as its page does."""
    outputs = [{"id": part.rpartition(".")[0], "property": part.rpartition(".")[2]} for part in output.strip(".").split("...")]
    asked = {
        "output": output,
        "outputs": outputs if len(outputs) > 1 else outputs[0],
        "inputs": inputs,
        "state": list(state),
        "changedPropIds": ['{"bed":"terrace","job":"water","type":"done"}.n_clicks'],
    }
    return client.post("/_dash-update-component", json=asked)


TAP = [
    [{"id": {"type": "done", "bed": "terrace", "job": "water"}, "property": "n_clicks", "value": 1}],
    [],
]


@pytest.mark.parametrize(("password", "written"), [(WRITES, 1), (LOOKS, 0)])
def test_a_tap_on_done_counts_only_from_whoever_may_write(password, written):
    client, season = opened(password)
    answer = callback(client, "told.data", inputs=TAP)
    assert answer.status_code == 200
    assert len(list(season.entries(0, 2**62))) == written


@pytest.mark.parametrize(("password", "seen"), [(WRITES, False), (LOOKS, True)])
def test_the_page_says_to_whom_it_is_shown(password, seen):
    client, _ = opened(password)
    layout = client.get("/_dash-layout").get_data(as_text=True)
    assert ("to look, not to write" in layout) is seen
    assert ("shell viewer" in layout) is seen


class Everything:
    """Does whatever it is asked, and remembers."""

    def __init__(self):
        self.asked = []

    def __getattr__(self, name):
        return lambda *told: self.asked.append((name, *told))


@pytest.mark.parametrize("name", sorted(CHANGES))
def test_each_change_is_refused_to_those_who_look(monkeypatch, name):
    behind = Everything()
    asked = for_whom.for_whom(behind)
    monkeypatch.setattr(for_whom.sign_in, "may_write", lambda: False)
    with pytest.raises(QuestionError, match=REFUSED):
        getattr(asked, name)("terrace")
    assert behind.asked == []
    monkeypatch.setattr(for_whom.sign_in, "may_write", lambda: True)
    getattr(asked, name)("terrace")
    assert behind.asked == [(name, "terrace")]


def test_every_change_that_there_is_goes_through_the_door():
    """A method of the questions that changes something and is not named here would be open to all."""
    source = re.findall(r"def (\w+)\(.*?\n(.*?)(?=\n    def |\Z)", getsource(SoilQueries), re.DOTALL)
    changing = {name for name, body in source if re.search(r"self\._season\.(done|undo|see|snooze|write|use|record)\(", body)}
    assert changing == CHANGES


@pytest.mark.parametrize("name", sorted(CHANGES_OF["journal"]))
def test_the_journal_is_read_by_all_and_written_by_those_who_may(monkeypatch, name):
    class Behind:
        journal = Everything()

    asked = for_whom.for_whom(Behind())
    monkeypatch.setattr(for_whom.sign_in, "may_write", lambda: False)
    asked.journal.entries(5)
    with pytest.raises(QuestionError):
        getattr(asked.journal, name)(1)
    assert Behind.journal.asked == [("entries", 5)]


def test_a_viewers_password_alone_is_told_at_the_start(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN_FILE)
    with pytest.raises(CooldepthError, match="COOLDEPTH_PASSWORD_HASH"):
        wsgi.open_app(path, {"COOLDEPTH_VIEWER_HASH": VIEWER})
    with pytest.raises(CooldepthError, match="Argon2"):
        wsgi.open_app(path, {"COOLDEPTH_PASSWORD_HASH": HASH, "COOLDEPTH_VIEWER_HASH": "x"})
    assert wsgi.open_app(path, {"COOLDEPTH_PASSWORD_HASH": HASH, "COOLDEPTH_VIEWER_HASH": VIEWER}) is not None
