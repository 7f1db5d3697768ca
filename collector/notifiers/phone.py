"""The grower's phone, or whatever else an Apprise URL reaches: mail, a chat, a web hook."""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from collector.errors import NotifyError

# Apprise is loaded when there is first something to tell, which is seldom in the collector's first seconds.
if TYPE_CHECKING:
    from apprise import Apprise
    from apprise.result import AppriseResult

_LONGEST_REASON = 300


class Phone:
    """One Apprise URL. The URL may hold a secret: it is in no repr and in no error."""

    def __init__(self, url: str, channel: str) -> None:
        """`channel` is the name of the variable that holds the URL. Nothing is sent, and a bad URL is told by `trouble`."""
        self._url = url
        self._channel = channel

    @property
    def channel(self) -> str:
        """Its name in the outbox."""
        return self._channel

    @property
    def trouble(self) -> str | None:
        """What is wrong with the URL, in a sentence; None where it can be tried. Nothing is sent."""
        if self._apprise is not None:
            return None
        return f"{self._channel} holds no URL that Apprise understands; want one like mailto:// or json://, see its manual"

    def tell(self, title: str, text: str) -> None:
        """Hand the message over, or raise NotifyError. Blocks until the service answers or its time-out passes."""
        from apprise.common import NotifyFormat
        from apprise.result import AppriseResultStatus

        if self._apprise is None:
            raise NotifyError(self.trouble)
        # told to be plain, so that a service of HTML keeps its lines and its signs
        result = self._apprise.notify(title=title, body=text, body_format=NotifyFormat.TEXT)
        if result.status is not AppriseResultStatus.SUCCESS:
            raise NotifyError(f"{self._channel}: {self._reason(result)}; it is tried again later")

    @cached_property
    def _apprise(self) -> Apprise | None:
        """None where it does not understand the URL."""
        from apprise import Apprise, AppriseAsset
        from apprise.common import PersistentStoreMode

        # In memory only: by default Apprise may keep files of its own under the home folder.
        apprise = Apprise(asset=AppriseAsset(storage_mode=PersistentStoreMode.MEMORY))
        return apprise if apprise.add(self._url) else None

    def _reason(self, result: AppriseResult) -> str:
        """What the service answered, in one line without the secrets of the URL."""
        said = [entry.message for service in result for attempt in service.attempts for entry in attempt.logs]
        reason = " ".join(" ".join(said).split()) or f"the service answered {result.status.name.lower()}"
        # A token may stand anywhere in a URL, so only the host is shown, and that as Apprise masks it.
        shown = " ".join(urlsplit(service.url).netloc.rpartition("@")[2] for service in result)
        parts = re.split(r"[:/@?&=#,]+", self._url.partition("://")[2])
        hidden = {part for part in parts if len(part) > 3 and part not in shown}
        for secret in sorted(hidden, key=len, reverse=True):
            reason = reason.replace(secret, "***")
        return reason[:_LONGEST_REASON].rstrip(" .")
