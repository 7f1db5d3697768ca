"""The names by which callbacks find components. One name, one place; pages add theirs here."""

from __future__ import annotations

from typing import Any

# The frame around every page (shell.py)
MODE = "mode"  # a dcc.Store: "light" or "dark", as the phone prefers
TICK = "tick"  # a dcc.Interval that lives as long as the page: what is live listens to it
SLOW_TICK = "slow-tick"
TROUBLE = "trouble"
CUT_OFF = "cut-off"  # shown and hidden by assets/shell.js
LOCATION = "_pages_location"  # dash's own dcc.Location, made by dash.page_container


def nav_word(name: str) -> str:
    """The link of one word in the bar."""
    return f"nav-{name}"


# Beds, Stakes, Notices
BEDS_LIST = "beds-list"
STAKES_LIST = "stakes-list"
MOUNTED = "mounted"
MOUNTED_BED = "mounted-bed"
NOTICES_LIST = "notices-list"
STRANGERS, STRANGERS_SEEN, CLAIMED, CLAIM_SAID = "strangers", "strangers-seen", "claimed", "claim-said"
TRUE_PROBE, TRUE_VALUE, TRUE_NOTE, TRUE_JOIN = "true-probe", "true-value", "true-note", "true-join"
TRUE_KEEP, TRUE_SAID, TRUE_LIST = "true-keep", "true-said", "true-list"
BY_EYE_PROBE, BY_EYE_VALUE, BY_EYE_KEEP, BY_EYE_SAID = "by-eye-probe", "by-eye-value", "by-eye-keep", "by-eye-said"
HAND, HAND_SINCE, HAND_BEGIN, HAND_END = "hand", "hand-since", "hand-begin", "hand-end"
# Types of pattern-matching ids; the index is the notice's id.
NOTICE_SEEN, NOTICE_LATER, NOTICE_MUCH_LATER = "notice-seen", "notice-later", "notice-much-later"

# Feed, Season
FEED = "feed"
SEASON = "season"

# What if
WHAT_IF_CHANGE, WHAT_IF_SAID, WHAT_IF_BED = "what-if-change", "what-if-said", "what-if-bed"

# Compare
COMPARE_FIRST, COMPARE_SECOND, COMPARED = "compare-first", "compare-second", "compared"

# Journal
JOURNAL_PICTURE_NAME = "journal-picture-name"
JOURNAL_SAID, JOURNAL_LIST, JOURNAL_ABOUT = "journal-said", "journal-list", "journal-about"
# Types of pattern-matching ids.
JOURNAL_KEEP, JOURNAL_STRIKE, JOURNAL_PICTURE = "journal-keep", "journal-strike", "journal-picture"

# Today and Bed: the beds, their cuts and calls
TODAY_HEAD = "today-head"
TODAY_BEDS = "today-beds"
BED_ADDRESS = "bed-address"
BED_SEEN = "bed-seen"
CHARTS_SEEN = "charts-seen"
CLOSER = "closer"  # where a tap on a chart puts the way to a closer look
BED_NATURE = "bed-nature"
# How far from now the cut is shown: a dcc.Store, how far it can go, the slider and its place, and what it shows in words.
HOURS_OFF, HOURS_OFF_REACH = "hours-off", "hours-off-reach"
HOURS_OFF_SLIDER, HOURS_OFF_RAIL, HOURS_OFF_SAID = "hours-off-slider", "hours-off-rail", "hours-off-said"
ORDER = "order"  # a dcc.Store: the beds as they stand on Today, and how pressing each was when it was put there
SEEN = "seen"  # a dcc.Store: fingerprints of what the page shows, so that only what changed travels
TOLD = "told"  # a dcc.Store: the last tap that was taken
DONE, UNDO, CUT_PICTURE, CUT_NOW, PART = "done", "undo", "cut-picture", "cut-now", "part"


def stranger_now(address: object) -> dict[str, Any]:
    """What an address that no probe has says now; ALL is allowed."""
    return {"type": "stranger-now", "address": address}


def claim(address: object, bed_id: object, what: object, at: object) -> dict[str, Any]:
    """The button that gives an address to a bed: what it measures, and how deep [m, as a text], "typed" or ""; ALL is allowed."""
    return {"type": "claim", "address": address, "bed": bed_id, "what": what, "at": at}


def claim_depth(address: object) -> dict[str, Any]:
    """Where another depth is typed; ALL is allowed."""
    return {"type": "claim-depth", "address": address}


def take_back(number: object) -> dict[str, Any]:
    """The button that takes a calibration back; ALL is allowed."""
    return {"type": "take-back", "number": number}


def journal_field(name: object) -> dict[str, Any]:
    """A field of the journal's form; ALL is allowed."""
    return {"type": "journal-field", "name": name}


def done(bed_id: object, job: object) -> dict[str, Any]:
    """The button that says a job is done; ALL is allowed for both."""
    return {"type": DONE, "bed": bed_id, "job": job}


def undo(bed_id: object, job: object) -> dict[str, Any]:
    """The button that takes it back; ALL is allowed for both."""
    return {"type": UNDO, "bed": bed_id, "job": job}


def cut_picture(page: object, bed_id: object) -> dict[str, Any]:
    """The element that a cut is drawn into, on the page "today" or "bed"; MATCH is allowed for both."""
    return {"type": CUT_PICTURE, "page": page, "bed": bed_id}


def cut_now(page: object, bed_id: object) -> dict[str, Any]:
    """The dcc.Store with the half of a cut that changes; MATCH and ALL are allowed."""
    return {"type": CUT_NOW, "page": page, "bed": bed_id}


def part(page: object, bed_id: object, name: object) -> dict[str, Any]:
    """A piece of a bed on a page that changes by itself; ALL is allowed for bed and name."""
    return {"type": PART, "page": page, "bed": bed_id, "name": name}


def chart_words(name: object) -> dict[str, Any]:
    """The heading and note over a chart; ALL is allowed."""
    return {"type": "chart-words", "name": name}


def chart(name: object) -> dict[str, Any]:
    """The dcc.Graph of a chart; ALL is allowed."""
    return {"type": "chart", "name": name}
