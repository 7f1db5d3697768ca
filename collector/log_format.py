"""How the log is written: lines for people, or one JSON object a line for programs. What is secret is in neither."""

from __future__ import annotations

import datetime as dt
import json
import logging
import sys
from collections.abc import Mapping

VARIABLE = "COOLDEPTH_LOG"


class JsonLines(logging.Formatter):
    """One object a line: time (UTC, ISO 8601), level, thread, message, and the trace of an error."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as a line."""
        at = dt.datetime.fromtimestamp(record.created, tz=dt.UTC)
        told = {
            "time": at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "thread": record.threadName,
            "message": record.getMessage(),
        }
        if record.exc_info:
            told["error"] = self.formatException(record.exc_info)
        return json.dumps(told, ensure_ascii=False)


def begin(environ: Mapping[str, str]) -> None:
    """Write the log to standard error; as JSON where the variable COOLDEPTH_LOG says "json"."""
    out = logging.StreamHandler(sys.stderr)
    out.setFormatter(
        JsonLines() if environ.get(VARIABLE) == "json" else logging.Formatter("%(asctime)s %(message)s", "%Y-%m-%d %H:%M:%S")
    )
    logging.basicConfig(level=logging.INFO, handlers=[out])
    # Each request is no news, and its address may hold a key.
    logging.getLogger("httpx").setLevel(logging.WARNING)
