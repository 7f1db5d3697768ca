"""What an address asks to see. Addresses are parsed here and nowhere else.

Whoever edits an address by hand, or follows an old one, gets the nearest thing that makes
sense and never an error.
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote, urlsplit

TODAY = "/"
BEDS = "/beds"
BEDS_OWN = "/bed"
BED = f"{BEDS_OWN}/<bed_id>"
STAKES = "/stakes"
NOTICES = "/notices"
JOURNAL = "/journal"
SEASON = "/season"
FEED = "/feed"
COMPARE = "/compare"
MOUNTING = "/mounting"
WHAT_IF = "/what-if"
PICTURE = "/journal/picture/<name>"
SIGN_IN = "/sign-in"
TAPPED = "/tapped"  # where the taps go of a page that dash has not come to yet
LAST_KNOWN = "/last-known"
ANSWER = "/answer"  # where the links of messages lead; the collector writes them

DAY_MS = 86_400_000
SPANS_DAYS = (1, 3, 7, 30, 365)
USUAL_DAYS = 3


@dataclass(frozen=True, slots=True)
class BedAddress:
    """A bed, how many days its charts show, one of `SPANS_DAYS`, and up to when [ms since 1970 UTC], None for now."""

    bed_id: str
    days: int
    until_ms: int | None = None

    def span_ms(self, now_ms: int) -> tuple[int, int]:
        """From when to when [ms] the charts go; never beyond now."""
        end_ms = now_ms if self.until_ms is None else min(self.until_ms, now_ms)
        return end_ms - self.days * DAY_MS, end_ms

    def until(self, end_ms: int, now_ms: int, days: int | None = None) -> BedAddress:
        """The same, or so many days of it, up to another moment [ms]; what would reach to now goes on with it."""
        return BedAddress(self.bed_id, days or self.days, None if end_ms >= now_ms else end_ms)

    def earlier(self, now_ms: int) -> BedAddress:
        """The span before this one."""
        return self.until(self.span_ms(now_ms)[0], now_ms)

    def later(self, now_ms: int) -> BedAddress | None:
        """The span after this one; None where this one ends now."""
        return None if self.until_ms is None else self.until(self.until_ms + self.days * DAY_MS, now_ms)

    def closer(self, at_ms: int, now_ms: int) -> BedAddress | None:
        """The next shorter span around a moment [ms]; None where this one is the shortest."""
        shorter = [days for days in SPANS_DAYS if days < self.days]
        return self.until(at_ms + shorter[-1] * DAY_MS // 2, now_ms, shorter[-1]) if shorter else None

    @property
    def href(self) -> str:
        """The address itself; the usual span, and now, are not written."""
        asked = ([] if self.days == USUAL_DAYS else [f"days={self.days}"]) + (
            [] if self.until_ms is None else [f"until={self.until_ms}"]
        )
        return f"/bed/{quote(self.bed_id, safe='')}{'?' if asked else ''}{'&'.join(asked)}"


def bed_address(
    bed_id: str | None, days: str | int | None = None, until: str | int | None = None, **_unknown: object
) -> BedAddress:
    """The bed page that an address asks for; a span that is none of ours becomes the nearest one, and no moment is now."""
    text = str(until) if until is not None else ""
    return BedAddress(bed_id or "", _nearest_span(days), int(text) if _is_moment(text) else None)


def bed_href(bed_id: str) -> str:
    """The address of a bed's page."""
    return BedAddress(bed_id, USUAL_DAYS).href


def journal_href(bed_id: str, deed: str | None = None, at_ms: int | None = None) -> str:
    """The address of the journal's form for a bed, for a deed by its name in `Deed`, and for a moment [ms since 1970 UTC]."""
    about = f"&deed={quote(deed.lower().replace('_', '-'), safe='')}" if deed else ""
    moment = "" if at_ms is None else f"&at={at_ms}"
    return f"{JOURNAL}?bed={quote(bed_id, safe='')}{about}{moment}"


def claimed_href(probe_id: str) -> str:
    """The address of the page of probes, after one was claimed."""
    return f"{STAKES}?claimed={quote(probe_id, safe='')}"


def anchor(text: str) -> str:
    """A text as the name of a place on a page."""
    return quote(text, safe="").replace("%", "_")


def mounting_href(bed_id: str) -> str:
    """The address of how probes are put into a bed."""
    return f"{MOUNTING}?bed={quote(bed_id, safe='')}"


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
    at_ms = int(text) if text and _is_moment(text) else None
    return at_ms if at_ms is not None and at_ms <= now_ms else None


def _is_moment(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 16


def _nearest_span(days: str | int | None) -> int:
    try:
        wanted = int(days) if days is not None else USUAL_DAYS
    except ValueError:
        wanted = USUAL_DAYS
    return min(SPANS_DAYS, key=lambda span: abs(span - wanted))
