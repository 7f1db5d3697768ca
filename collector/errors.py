"""Everything that can go wrong on purpose, in one tree.

    CooldepthError
    ├── GardenFileError      the garden file is not what it must be (every problem at once)
    ├── DecodeError          bytes that are not readings; the message is kept as refused
    ├── StoreError           the store cannot do what was asked
    │   ├── StoreBusyError   it cannot now, but may later (disk full, locked); retried
    │   └── SchemaError      its file was written by a newer version, or is no store at all
    ├── SourceError          a broker or a wire that cannot be opened or refuses us
    ├── NotifyError          a message that could not be handed over
    ├── WeatherError         a weather service that is away, refuses us or answers nonsense
    ├── LinkError            a link in a message that is forged, has run out or was used
    └── QuestionError        a question about a bed or probe that is not there

A message answers: what, where, got, wanted, what now.
"""

from __future__ import annotations

from collections.abc import Sequence


class CooldepthError(Exception):
    """Root of every error that Cooldepth raises and explains."""


class GardenFileError(CooldepthError):
    """The garden file is refused whole; `problems` holds one sentence each."""

    def __init__(self, where: str, problems: Sequence[str]) -> None:
        count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
        super().__init__("\n".join([f"{where}: {count}", *(f"  {problem}" for problem in problems)]))
        self.where = where
        self.problems = tuple(problems)


class DecodeError(CooldepthError):
    """These bytes hold no readings; the message says what was found and what was wanted."""


class StoreError(CooldepthError):
    """The store cannot do what was asked."""


class StoreBusyError(StoreError):
    """The store cannot take this now, but may later; nothing was written."""


class SchemaError(StoreError):
    """The file was written by a newer version, or is no store of ours."""


class SourceError(CooldepthError):
    """A broker or a wire that cannot be opened, or that refuses us."""


class NotifyError(CooldepthError):
    """A message that could not be handed over; it stays in the outbox."""


class WeatherError(CooldepthError):
    """A weather service that is away, refuses us or answers nonsense; it wants to be left alone for `wait_s` [s]."""

    def __init__(self, told: str, wait_s: float = 0.0) -> None:
        super().__init__(told)
        self.wait_s = wait_s


class LinkError(CooldepthError):
    """A link in a message that cannot be used; the message is for whoever opened it."""


class QuestionError(CooldepthError):
    """A question about a bed, probe or notice that does not exist."""
