"""Readings that come days after they were measured: the health page says that it is catching up, and not that all is silent."""

import time

import pytest

from tests.crash.test_kill import Collector
from tests.crash.torture import garden_for, log_of
from tests.crash.watched import health_of
from tests.real.mosquitto import publish, wait_until

pytestmark = pytest.mark.broker
HOUR_S = 3600


def said(at_s):
    return "garden/a", b'[{"n":"stake:timed","u":"Cel","t":%d,"v":18}]' % at_s


def test_a_backlog_is_told_as_one_until_the_present_is_in(mosquitto, tmp_path):
    garden, now_s = garden_for(tmp_path, mosquitto), int(time.time())
    with health_of(garden) as page:
        publish(mosquitto.port, [said(now_s - hours * HOUR_S) for hours in range(90, 40, -1)])
        collector = Collector(garden)
        try:
            wait_until(lambda: "Catching up: readings up to" in page.now().status, 30)
            assert "No reading has come in since" not in page.now().status
            publish(mosquitto.port, [said(now_s - hours * HOUR_S) for hours in range(40, -1, -1)])
            wait_until(lambda: "Catching up" not in page.now().status, 30)
            wait_until(lambda: page.now().well, 30)
        finally:
            assert collector.stop() == 0, log_of(garden)
