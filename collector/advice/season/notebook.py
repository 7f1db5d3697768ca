"""The journal as a grower keeps it: written, asked about where it is odd, changed, taken back. Keeps it in the season's store."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from collector.advice.season.built import locale_of
from collector.advice.season.questions import questions, refuse_impossible
from collector.advice.voice import voice_of
from collector.errors import CooldepthError, QuestionError
from collector.journal import Entry
from collector.model import Garden
from collector.ports import Clock, PictureStore, SeasonStore

# So much of a picture is taken in; less is kept of it.
MOST_PICTURE_BYTES = 15_000_000

_ALL_MS = 2**62


class Notebook:
    """The journal of one garden. Any thread may ask; what the store raises is raised on."""

    def __init__(self, garden: Garden, season: SeasonStore, clock: Clock, pictures: PictureStore | None = None) -> None:
        """It opens nothing: the store is the caller's to close. With no place for pictures there are none."""
        self._garden = garden
        self._season = season
        self._pictures = pictures
        self._clock = clock
        self._voice = voice_of(garden)
        self._feed = locale_of(garden).method.feed

    def entries(self, bed_id: str | None = None, limit: int | None = None) -> Sequence[Entry]:
        """What was written and stands, the newest first; of one bed, and no more than so many, where that is asked for."""
        found = [one for one in self._season.entries(0, _ALL_MS) if bed_id in (None, one.bed_id)][::-1]
        return tuple(found[:limit])

    def entry(self, number: int) -> Entry:
        """An entry as it is now. Raises QuestionError for an unknown number."""
        return self._season.versions(number)[-1]

    def versions(self, number: int) -> Sequence[Entry]:
        """What an entry said from the first time on, the present last. Raises QuestionError for an unknown number."""
        return self._season.versions(number)

    def ask(self, entry: Entry) -> tuple[str, ...]:
        """What is odd about an entry, as questions; empty where nothing is. Raises QuestionError for what can be none."""
        refuse_impossible(entry, self._garden)
        others = [one for one in self._season.entries(0, _ALL_MS) if one.number != entry.number]
        return questions(replace(entry, written_ms=self._clock.now_ms()), self._garden, others, self._feed, self._voice)

    def write(self, entry: Entry, picture: bytes | None = None) -> Entry:
        """Keep a new entry (number 0) or a change of one, with a new picture (JPEG, PNG or WebP) where one is given.

        Raises QuestionError for what can be none, for a picture that is none, and for an unknown number.
        """
        refuse_impossible(entry, self._garden)
        written = replace(entry, written_ms=self._clock.now_ms())
        if picture is None:
            return self._season.write(written)
        pictures = self._place()
        name = pictures.keep(picture)  # first, so that no entry ever names a picture that is not there
        try:
            return self._season.write(replace(written, picture=name))
        except CooldepthError:
            pictures.forget(name)
            raise

    def picture(self, name: str) -> bytes:
        """The picture that an entry names, as JPEG. Raises QuestionError where there is none of that name."""
        return self._place().read(name)

    def _place(self) -> PictureStore:
        if self._pictures is None:
            raise QuestionError("this journal has no place for pictures; leave the picture out")
        return self._pictures

    def strike(self, number: int) -> Entry:
        """Take an entry back; harmless where it was. Raises QuestionError for an unknown number."""
        entry = self.entry(number)
        if entry.struck_ms is not None:
            return entry
        now_ms = self._clock.now_ms()
        return self._season.write(replace(entry, struck_ms=now_ms))
