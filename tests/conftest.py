"""What every test gets, and the real things that tests of more than one folder use."""

from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.real.influx import Influx, missing

# A machine that is busy with other things must not fail a test: how fast we are is measured by the bench.
settings.register_profile("house", deadline=None)
settings.load_profile("house")


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "influx: starts a real InfluxDB behind nginx on free loopback ports")


@pytest.fixture(scope="session")
def influx(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Influx]:
    """An InfluxDB that stays up; each test makes a database of its own in it."""
    why = missing()
    if why:
        pytest.skip(why)
    with Influx(tmp_path_factory.mktemp("influx")) as server:
        yield server
