"""Figures for Prometheus: read back by its own parser, on this computer alone."""

from __future__ import annotations

import socket
import urllib.request

import pytest
from prometheus_client.parser import text_string_to_metric_families

from collector.advice.views import Health
from collector.errors import StoreError
from collector.intake_round import Counts, Why
from collector.metrics import Figures, MetricsServer
from tests.real.mosquitto import free_port

HEALTH = Health("No reading has come in since 11:00.", False, 90.5, 12, 3)


def told(figures):
    port = free_port()
    with MetricsServer(figures, port), urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=5) as answer:
        text = answer.read().decode()
    samples = [one for family in text_string_to_metric_families(text) for one in family.samples]
    return {(one.name, *one.labels.values()): one.value for one in samples}


def test_counts_and_health_are_told_under_their_names():
    counts = Counts(messages=10, again=1, readings=40, unclaimed=2)
    counts.refused.update([Why.UNIT, Why.UNIT, Why.TOO_LONG])
    assert told(Figures(lambda: counts, lambda: HEALTH, lambda: 123)) == {
        ("cooldepth_messages_total",): 10,
        ("cooldepth_messages_again_total",): 1,
        ("cooldepth_readings_total",): 40,
        ("cooldepth_unclaimed_total",): 2,
        ("cooldepth_refused_total", "unit"): 2,
        ("cooldepth_refused_total", "too long"): 1,
        ("cooldepth_well",): 0,
        ("cooldepth_queue_depth",): 12,
        ("cooldepth_last_reading_age_seconds",): 90.5,
        ("cooldepth_store_free_bytes",): 123,
    }


def test_where_the_store_is_away_its_own_counts_are_told_all_the_same():
    def away():
        raise StoreError("gone")

    names = ("messages", "messages_again", "readings", "unclaimed")
    assert set(told(Figures(Counts, away, lambda: 0))) == {(f"cooldepth_{name}_total",) for name in names}


def test_nobody_on_another_computer_can_ask():
    port = free_port()
    outside = socket.gethostbyname(socket.gethostname())
    with MetricsServer(Figures(Counts, lambda: HEALTH, lambda: 0), port):
        if outside.startswith("127."):
            pytest.skip("this machine has no address but its own")
        with pytest.raises(ConnectionRefusedError), socket.create_connection((outside, port), timeout=1):
            pass
