"""The log as JSON lines for programs."""

import json
import logging

from collector.log_format import JsonLines


def line(**more):
    record = logging.LogRecord("cooldepth", logging.WARNING, "", 0, "store: %s\nand more", ("busy",), more.get("exc_info"))
    record.created = 1776081600.25
    return JsonLines().format(record)


def test_a_record_is_one_object_in_one_line():
    assert "\n" not in line()
    assert json.loads(line()) == {
        "time": "2026-04-13T12:00:00.250Z",
        "level": "warning",
        "thread": "MainThread",
        "message": "store: busy\nand more",
    }


def test_an_error_brings_its_trace():
    error = ValueError("no")
    told = json.loads(line(exc_info=(ValueError, error, None)))
    assert told["error"].endswith("ValueError: no")
