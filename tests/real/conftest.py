"""A real Mosquitto on a free loopback port, with a configuration of its own."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.real.mosquitto import Mosquitto, missing


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    why = missing()
    if why:
        pytest.skip(why)
    with Mosquitto(tmp_path) as broker:
        yield broker
