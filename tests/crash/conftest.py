"""The real broker of these tests."""

import pytest

from tests.real.mosquitto import Mosquitto, missing


@pytest.fixture
def broker(tmp_path):
    why = missing()
    if why:
        pytest.skip(why)
    with Mosquitto(tmp_path) as mosquitto:
        yield mosquitto
