"""The torture in its short form; `make torture` runs the long one."""

import pytest

from tests.crash import torture
from tests.crash.fuzz import fuzz
from tests.real.mosquitto import missing


@pytest.fixture(autouse=True)
def with_broker(request):
    if request.node.get_closest_marker("broker") and missing():
        pytest.skip(missing())


@pytest.mark.broker
def test_killed_at_random_moments_under_load_it_loses_and_doubles_nothing(tmp_path):
    assert "stored once each" in torture.killed(tmp_path, 5)


@pytest.mark.broker
def test_a_full_disk_is_told_and_loses_nothing(tmp_path):
    assert "stored once each" in torture.disk_full(tmp_path)


@pytest.mark.broker
def test_a_file_that_may_not_be_written_is_told_and_loses_nothing(tmp_path):
    assert "stored once each" in torture.read_only(tmp_path)


def test_mutated_payloads_break_nothing_and_each_ends_in_exactly_one_way():
    assert "exactly one way" in fuzz(20_000)
