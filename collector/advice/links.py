"""Links in a message: plain ones that lead to a page, and signed ones that answer one notice without signing in. Pure.

Whoever holds a signed link may answer that notice, once, and until the link has run out; it opens nothing else. Its
signature is HMAC (RFC 2104) with SHA-256 over what it is for, its notice, its end and a number that is used once. It
is hexadecimal, since programs that find links in a text leave signs of other kinds at their ends away.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from dataclasses import dataclass
from urllib.parse import quote

from collector.errors import LinkError

# So long is enough for a weekend away, and short enough for a message that was passed on.
LINK_LASTS_MS = 3 * 24 * 3_600_000
KEY_BYTES, NONCE_BYTES = 32, 16
ANSWER = "/answer"  # with the token as `link` in its query
_FOR = "cooldepth answer"  # what it is for is signed too, so that nothing signed for another use could pass
_TOKEN = re.compile(rf"([0-9]{{1,15}})\.([0-9]{{1,15}})\.([0-9a-f]{{{2 * NONCE_BYTES}}})\.([0-9a-f]{{64}})")


@dataclass(frozen=True, slots=True)
class Ticket:
    """What a signed link allows: to answer this notice before `until_ms`, if `nonce` was not used."""

    notice_id: int
    until_ms: int
    nonce: str


def sign(key: bytes, ticket: Ticket) -> str:
    """The ticket as a text that nobody can make or change without the key."""
    told = f"{ticket.notice_id}.{ticket.until_ms}.{ticket.nonce}"
    return f"{told}.{_signature(key, told)}"


def read(key: bytes, token: str, now_ms: int) -> Ticket:
    """The ticket that was signed. Raises LinkError for a text that was not signed with this key, or has run out."""
    found = _TOKEN.fullmatch(token)
    told, _, signature = token.rpartition(".")
    if found is None or not hmac.compare_digest(signature, _signature(key, told)):
        raise LinkError("This link is not whole, or was never sent from this garden. Open it from the message itself.")
    ticket = Ticket(int(found[1]), int(found[2]), found[3])
    if now_ms >= ticket.until_ms:
        raise LinkError("This link has run out: it is good for three days. Answer on the page of the bed.")
    return ticket


def _signature(key: bytes, told: str) -> str:
    return hmac.new(key, f"{_FOR}.{told}".encode(), hashlib.sha256).hexdigest()


class Links:
    """The links of one garden's messages."""

    def __init__(self, address: str, key: bytes) -> None:
        """`address` is that of the pages as phones reach them; `key` signs."""
        self._address = address.rstrip("/")
        self._key = key

    def answer(self, notice_id: int, now_ms: int, nonce: str) -> str:
        """Where a notice is answered, once, within the next days; `nonce` is NONCE_BYTES of chance in hexadecimal."""
        token = sign(self._key, Ticket(notice_id, now_ms + LINK_LASTS_MS, nonce))
        return f"{self._address}{ANSWER}?link={token}"

    def bed(self, bed_id: str) -> str:
        """The page of a bed."""
        return f"{self._address}/bed/{quote(bed_id, safe='')}"

    @property
    def today(self) -> str:
        """The page of what is due in all the beds."""
        return f"{self._address}/"

    @property
    def notices(self) -> str:
        """The page of what was told."""
        return f"{self._address}/notices"
