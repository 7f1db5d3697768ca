"""What an address asks to see. Addresses are parsed here and nowhere else.

Whoever edits an address by hand, or follows an old one, gets the nearest thing that makes
sense and never an error.
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote, urlsplit

TODAY = "/"
BEDS = "/beds"
BED = "/bed/<bed_id>"
STAKES = "/stakes"
NOTICES = "/notices"
JOURNAL = "/journal"
SEASON = "/season"
FEED = "/feed"
COMPARE = "/compare"
WHAT_IF = "/what-if"
PICTURE = "/journal/picture/<name>"
SIGN_IN = "/sign-in"
LAST_KNOWN = "/last-known"
ANSWER = "/answer"  # where the links of messages lead; the collector writes them

DAY_MS = 86_400_000
SPANS_DAYS = (3, 7, 30, 365)


@dataclass(frozen=True, slots=True)
class BedAddress:
    """A bed and how many days back its charts go, one of `SPANS_DAYS`."""

    bed_id: str
    days: int

    def span_ms(self, now_ms: int) -> tuple[int, int]:
        """From when to when [ms] the charts go, ending now."""
        return now_ms - self.days * DAY_MS, now_ms

    @property
    def href(self) -> str:
        """The address itself; the usual span is not written."""
        query = "" if self.days == SPANS_DAYS[0] else f"?days={self.days}"
        return f"/bed/{quote(self.bed_id, safe='')}{query}"


def bed_address(bed_id: str | None, days: str | int | None = None, **_unknown: object) -> BedAddress:
    """The bed page that an address asks for; a span that is none of ours becomes the nearest one."""
    return BedAddress(bed_id or "", _nearest_span(days))


def bed_href(bed_id: str) -> str:
    """The address of a bed's page."""
    return BedAddress(bed_id, SPANS_DAYS[0]).href


def journal_href(bed_id: str, deed: str | None = None, at_ms: int | None = None) -> str:
    """The address of the journal's form for a bed, for a deed by its name in `Deed`, and for a moment [ms since 1970 UTC]."""
    about = f"&deed={quote(deed.lower().replace('_', '-'), safe='')}" if deed else ""
    moment = "" if at_ms is None else f"&at={at_ms}"
    return f"{JOURNAL}?bed={quote(bed_id, safe='')}{about}{moment}"


def what_if_href(bed_id: str) -> str:
    """The address of what might be changed in a bed."""
    return f"{WHAT_IF}?bed={quote(bed_id, safe='')}"


def picture_href(name: str) -> str:
    """The address of a picture of the journal."""
    return PICTURE.replace("<name>", quote(name, safe=""))


def path_after_sign_in(wanted: str | None) -> str:
    """Where to go after signing in: a path of this site, whatever was asked for."""
    text = wanted or TODAY
    parts = urlsplit(text)
    # "//host" and "/\host" lead browsers to another site
    elsewhere = parts.scheme or parts.netloc or "\\" in text or not text.startswith("/") or text.startswith("//")
    return TODAY if elsewhere or not text.isprintable() or parts.path == SIGN_IN else text


def moment_ms(text: str | None, now_ms: int) -> int | None:
    """A moment that an address names [ms since 1970 UTC]; None for what is none, or still to come."""
    at_ms = int(text) if text and text.isascii() and text.isdigit() and len(text) < 16 else None
    return at_ms if at_ms is not None and at_ms <= now_ms else None


def _nearest_span(days: str | int | None) -> int:
    try:
        wanted = int(days) if days is not None else SPANS_DAYS[0]
    except ValueError:
        wanted = SPANS_DAYS[0]
    return min(SPANS_DAYS, key=lambda span: abs(span - wanted))
