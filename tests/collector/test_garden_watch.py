"""The garden file is followed while the collector runs: what is sound is begun with, what is not is told and changes nothing."""

import threading

import pytest

from collector import assembly, wiring
from collector.cli_run import Collector
from collector.garden_watch import EVERY_S, GardenWatch
from tests.collector.test_cli import GARDEN
from tests.real.mosquitto import wait_until

MORE = (
    GARDEN
    + """
  [[bed.probe]]
  id = "t30"
  quantity = "soil_temperature"
  depth_cm = 30
  address = "stake/t30"
"""
)


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN)
    return path


@pytest.fixture
def watch(file):
    begun = []
    one = GardenWatch(file, wiring.read_garden(file), lambda: wiring.read_garden(file), lambda: begun.append(True))
    one.begun = begun
    assert one.step() == EVERY_S
    return one


def test_a_file_that_says_the_same_is_nothing_new(watch, file):
    file.write_text("# only a comment more\n" + GARDEN)
    watch.step()
    assert (watch.begun, watch.take(), watch.trouble) == ([], None, None)


def test_what_it_says_anew_is_begun_with_once(watch, file):
    file.write_text(MORE)
    watch.step()
    watch.step()
    assert watch.begun == [True]
    assert [probe.id for probe in watch.take().probes] == ["t12", "m12", "t30"]
    assert watch.take() is None
    watch.step()
    assert watch.begun == [True]


def test_a_file_that_is_not_sound_is_told_and_told_as_mended(watch, file):
    file.write_text(MORE.replace("stake/t30", "stake/t12"))
    watch.step()
    assert watch.begun == []
    assert watch.trouble.startswith("it was changed and cannot be used so; what it said before still holds. ")
    assert "stake/t12" in watch.trouble
    file.write_text(GARDEN)
    watch.step()
    assert (watch.begun, watch.trouble) == ([], None)


def test_a_file_that_is_gone_is_told(watch, file):
    file.unlink()
    watch.step()
    assert "there is no such file" in watch.trouble
    assert watch.begun == []


@pytest.fixture
def running(file, monkeypatch):
    """A collector of the file in a thread, and the gardens that it was begun with."""
    monkeypatch.setattr("collector.garden_watch.EVERY_S", 0.02)
    begun, real = [], assembly.open_daemon

    def noted(garden, *more):
        begun.append([probe.id for probe in garden.probes])
        return real(garden, *more)

    monkeypatch.setattr(assembly, "open_daemon", noted)
    collector = Collector(file)
    thread = threading.Thread(target=collector.run)
    thread.start()
    wait_until(lambda: begun)
    yield collector, begun
    collector.end()
    thread.join(20)
    assert not thread.is_alive()


def test_a_collector_begins_anew_with_what_the_file_says(running, file):
    _, begun = running
    file.write_text(MORE)
    wait_until(lambda: len(begun) == 2)
    assert begun == [["t12", "m12"], ["t12", "m12", "t30"]]


def test_what_cannot_be_begun_with_leaves_the_collector_as_it_was(running, file):
    collector, begun = running
    file.write_text(MORE.replace('path = "garden.db"', 'path = "nowhere/garden.db"'))
    wait_until(lambda: len(begun) == 3)
    assert begun[2] == ["t12", "m12"]  # tried, refused, as before
    wait_until(lambda: collector._watch.trouble)
    assert "nowhere" in collector._watch.trouble
    file.write_text(MORE)
    wait_until(lambda: len(begun) == 4)
    assert begun[3] == ["t12", "m12", "t30"]
    assert collector._watch.trouble is None
