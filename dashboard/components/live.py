"""Only what changed travels: fingerprints of the parts that a page shows, and the answer to a live update."""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from typing import Any

import dash
from plotly.io.json import to_json_plotly

Prints = dict[str, str]


def fingerprint(content: object) -> str:
    """A short text that changes when the content (components, or what JSON can hold) does."""
    return f"{zlib.crc32(to_json_plotly(content).encode()):08x}"


def name(part: Mapping[str, object]) -> str:
    """The name under which a part's fingerprint is kept, made of its pattern-matching id."""
    return "/".join(f"{key}={part[key]}" for key in sorted(part))


def changed(fresh: Mapping[str, object], seen: Mapping[str, str], wanted: Sequence[Mapping[str, object]]) -> list[Any]:
    """For each wanted part its fresh content, or `dash.no_update` where the page shows it already."""
    return [
        fresh[key] if key in fresh and fingerprint(fresh[key]) != seen.get(key) else dash.no_update
        for key in (name(part) for part in wanted)
    ]


def prints(fresh: Mapping[str, object]) -> Prints:
    """The fingerprints of these parts."""
    return {key: fingerprint(content) for key, content in fresh.items()}
