"""What is due and what was told: the nouns of advice, notices and the season's records.

Plain frozen values like those of `collector.model`; times are milliseconds since 1970-01-01 UTC.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Job(StrEnum):
    """What a call asks for."""

    SHADE = "shade"
    WATER = "water"
    LOOK = "look"  # at a stake that has fallen silent
    HOSE = "hose"  # turn the water off
    STAKE = "stake"  # push it back in
    PROBE = "probe"  # check one that fails
    PLANT = "plant"
    COUNT = "count"  # look, and count the leaves
    FEED = "feed"
    NO_FEED = "no feed"  # bulbing has begun: feed no more
    UNSHADE = "unshade"  # take the cloth off again
    SCAPES = "scapes"  # cut them
    DRY = "dry"  # water no more
    RUST = "rust"  # weather for it
    MILDEW = "mildew"
    ROT = "rot"  # soil in which white rot infects
    LIFT = "lift"
    CURE = "cure"  # see to the place where bulbs hang
    STORE = "store"


class Due(StrEnum):
    """How pressing a call is. FINE asks for nothing; NOT_KNOWN says that the data does not tell."""

    DUE = "due"
    SOON = "soon"
    FINE = "fine"
    NOT_KNOWN = "not known"
    DONE = "done"


class Evidence(StrEnum):
    """How well a rule is founded."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    WEAK = "weak"
    OWN = "your own number"


@dataclass(frozen=True, slots=True)
class Call:
    """What a bed asks for, or why nobody can tell; `advice.wording` puts it into words.

    `reason` names the branch of the rule that spoke; `numbers` holds what it went by, the
    unit of each in its name.
    """

    bed_id: str
    job: Job
    due: Due
    since_ms: int
    reason: str
    numbers: Mapping[str, float]
    evidence: Evidence
    source: str
    about: str | None = None  # what the numbers cannot hold, as the varieties it speaks of


@dataclass(frozen=True, slots=True)
class Memory:
    """What a rule remembers of one job in one bed between two looks at it."""

    bed_id: str
    job: Job
    due: Due = Due.FINE
    since_ms: int = 0
    told_ms: int | None = None
    done_ms: int | None = None
    told: Due | None = None  # how pressing it was when it was told
    recovered_ms: int | None = None  # when it last stood no longer after it was told


@dataclass(frozen=True, slots=True)
class Notice:
    """A call put into words and told, kept for the record."""

    id: int
    raised_ms: int
    bed_id: str
    job: Job
    title: str
    text: str
    seen_ms: int | None = None
    cleared_ms: int | None = None
    snoozed_ms: int | None = None  # until then it is not told again


@dataclass(frozen=True, slots=True)
class Errand:
    """One notice on its way to one phone. `channel` is the name of the variable that holds its address."""

    notice: Notice
    channel: str
    not_before_ms: int
    attempts: int = 0
    delivered_ms: int | None = None
    trouble: str | None = None
    reminders: int = 0  # how often it was told again


@dataclass(frozen=True, slots=True)
class Used:
    """When a link in a message was used, and for which answer."""

    at_ms: int
    answer: str


@dataclass(frozen=True, slots=True)
class DoneMark:
    """The grower said that a job is done; `undone_ms` is when that was taken back, `litres` what was given if told."""

    bed_id: str
    job: Job
    at_ms: int
    undone_ms: int | None = None
    litres: float | None = None


@dataclass(frozen=True, slots=True)
class Report:
    """What the collector last said of itself: when, and its troubles in sentences."""

    at_ms: int
    troubles: tuple[str, ...] = ()
