"""The seams of the collector: what it asks of a clock, a wire, a store, a phone.

Adapters in sources/, stores/, notifiers/ and weather/ fill these; only wiring.py knows which.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Protocol

from collector.calibration import Calibration
from collector.calls import DoneMark, Errand, Job, Memory, Notice, Report, Used
from collector.journal import Entry
from collector.model import Batch, Envelope, Flag, Probe, Reading, Refusal, Series, Spoken, Unclaimed
from collector.outlook import Outlook
from collector.rollup import Every, Steps
from collector.soil.forecast.inputs import Weather


class Clock(Protocol):
    """Time, handed in. `now_ms` may jump, `elapsed_s` never goes back."""

    def now_ms(self) -> int:
        """Milliseconds since 1970-01-01 UTC."""

    def elapsed_s(self) -> float:
        """Seconds since some fixed moment."""

    def sleep(self, seconds: float) -> None:
        """Wait that long."""


class Source(Protocol):
    """A wire that envelopes come from. One thread calls it; it never raises for a wire that is away."""

    @property
    def name(self) -> str:
        """What the grower calls it: `mqtt 127.0.0.1:1883`, `serial /dev/ttyUSB0`."""

    @property
    def can_acknowledge(self) -> bool:
        """True where the sender keeps a message until it is acknowledged."""

    @property
    def trouble(self) -> str | None:
        """What is wrong with the wire now, in a sentence; None when it is well."""

    def take(self, wait_s: float) -> Sequence[Envelope]:
        """What has come, at once if anything has, else after at most `wait_s` [s]. Keeps a lost wire trying."""

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        """These are on disk: their sender may forget them. In the order taken; envelopes of a lost connection are skipped."""

    def close(self) -> None:
        """Let go of the wire. Harmless when called twice."""


class ReadingStore(Protocol):
    """The writing side of the series store: one writer."""

    def commit(self, batch: Batch) -> None:
        """Write all of it durably, or raise StoreBusyError (nothing written, try again) or StoreError.

        A reading's key is (probe, measured_ms); the later value wins, but for those `beside` (see `Batch`).
        """

    def first_arrival(self, source: str, message_id: int, digest: bytes) -> int | None:
        """When this very message first came [ms], if it was committed and may be sent again; else None."""

    def forget_arrivals(self) -> None:
        """The sender numbers its messages anew: what is known of the old numbers must not be taken for news of the new."""

    def spoken(self) -> Sequence[Spoken]:
        """When probes began to send their numbers in another unit than before, oldest first."""

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        """As `ReadingMarks.mark`."""

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe, by probe id."""

    def kept_of(self, addresses: Collection[str], most: int) -> Sequence[Unclaimed]:
        """What these addresses said while no probe claimed them, of each the oldest first, so many at most."""

    def let_go(self, kept: Sequence[Unclaimed]) -> None:
        """These are the readings of a probe now and need not be kept as unclaimed. Raises as `commit` does."""

    def close(self) -> None:
        """Finish. Harmless when called twice."""


class ReadingMarks(Protocol):
    """What the watch over the probes may do to readings that are stored."""

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        """Put one flag on this probe's readings with from_ms <= measured_ms < to_ms, or take it off them; nothing else changes.

        Durable when it returns; raises StoreBusyError (nothing changed, try again) or StoreError.
        """


class Readings(Protocol):
    """The reading side of the series store: any number of readers, while the writer writes."""

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe, by probe id."""

    def series(self, probe_id: str, from_ms: int, to_ms: int) -> Series:
        """The probe's readings with from_ms <= measured_ms < to_ms, oldest first; empty if it never spoke."""

    def steps(self, probe_id: str, from_ms: int, to_ms: int, every: Every) -> Steps:
        """The probe's readings that may be believed, rolled up: steps with from_ms <= begin < to_ms, oldest first.

        A step is of all its readings, those after `to_ms` too; one in which nothing was said is left out.
        """

    def readings(self, probe_ids: Sequence[str], from_ms: int, to_ms: int) -> Iterator[Reading]:
        """Readings of these probes in that span, oldest first, streamed."""

    def refused(self) -> Iterator[Refusal]:
        """Everything refused, oldest first, streamed."""

    def unclaimed(self) -> Sequence[Unclaimed]:
        """The newest measurement of each address that no probe claims."""

    def unclaimed_since(self, from_ms: int) -> Sequence[Unclaimed]:
        """What no probe claims of all that was measured since then, by address, of each the oldest first."""


class CountedReadings(Readings, Protocol):
    """A series store that also knows how much it has been given, and what it has let go."""

    def counts(self) -> Counts:
        """How much was refused, and when the last reading came."""

    def pruned_before_ms(self) -> Mapping[str, int]:
        """Up to when [ms] no raw reading of a probe is kept, by its id; those of whom all are kept are left out."""


class Counts(Protocol):
    """How many refusals there were, when the last reading came (None before any), how many readings wait for their store.

    `refused_kept` and `unclaimed` are how many refusals and measurements that no probe claims are kept.
    """

    @property
    def refused(self) -> int: ...

    @property
    def waiting(self) -> int: ...

    @property
    def last_received_ms(self) -> int | None: ...

    @property
    def refused_kept(self) -> int: ...

    @property
    def unclaimed(self) -> int: ...


class SeasonStore(Protocol):
    """The season's own records: what the rules remember, what was told and done."""

    def memories(self) -> Mapping[tuple[str, Job], Memory]:
        """What the rules remember, by bed and job."""

    def record(self, memories: Sequence[Memory], raised: Sequence[tuple[Notice, Sequence[Errand]]]) -> None:
        """Save memories, notices (their ids are given here) and errands in one transaction.

        A notice that has an id already (not 0) is in the record: only its `cleared_ms` is saved again.
        """

    def notices(self, limit: int) -> Sequence[Notice]:
        """The newest notices first."""

    def errands(self, now_ms: int | None) -> Sequence[Errand]:
        """Errands not yet run and not to be held beyond `now_ms`, oldest first; with None all open ones."""

    def delivered(self, since_ms: int) -> Sequence[Errand]:
        """Errands that were delivered since then, whose notices are neither cleared nor seen, oldest first."""

    def ways(self, notice_ids: Sequence[int]) -> Sequence[Errand]:
        """How these notices went to each phone, oldest first."""

    def settle(self, errand: Errand) -> None:
        """Save how an errand went: delivered, or its attempts, trouble and next time."""

    def write(self, entry: Entry) -> Entry:
        """Keep an entry of the journal: a new one (number 0), which gets its number here, or a change of one that has it.

        What it said before is kept too. Raises QuestionError for an unknown number.
        """

    def entries(self, from_ms: int, to_ms: int, *, struck: bool = False) -> Sequence[Entry]:
        """Entries of the journal with from_ms <= at_ms < to_ms, oldest first; with `struck` those taken back too."""

    def versions(self, number: int) -> Sequence[Entry]:
        """What an entry said from the first time on, the present last. Raises QuestionError for an unknown number."""

    def done(self, bed_id: str, job: Job, at_ms: int, litres: float | None = None) -> None:
        """The grower says the job is done, with so much water [L] where that is told: an entry of the deed that answers it."""

    def undo(self, bed_id: str, job: Job, at_ms: int) -> None:
        """Take back the newest entry that says so and stands; harmless where none does."""

    def done_marks(self, from_ms: int, to_ms: int) -> Sequence[DoneMark]:
        """Marks with from_ms <= at_ms < to_ms, oldest first, those taken back among them."""

    def see(self, notice_id: int, at_ms: int) -> None:
        """The grower has seen this notice; the first time counts. Raises QuestionError for an unknown id."""

    def snooze(self, notice_id: int, until_ms: int) -> None:
        """The grower wants to hear no more of this notice until then. Raises QuestionError for an unknown id."""

    def keep_outlook(self, outlook: Outlook) -> None:
        """Keep what is expected of a bed, in the place of what was expected before."""

    def outlook(self, bed_id: str, not_before_ms: int) -> Outlook | None:
        """What is expected of a bed; None where nothing is, or nothing as fresh as that."""


class GardenKeeper(Protocol):
    """Changes the garden file in the grower's place."""

    def add_probe(self, probe: Probe) -> None:
        """Write one more probe into its bed. Raises QuestionError where that cannot be; then nothing is changed."""


class PictureStore(Protocol):
    """Keeps the pictures of the journal: nothing of them but what is to be seen."""

    def keep(self, uploaded: bytes) -> str:
        """Keep a picture; gives the name that it is found by. Raises QuestionError for what is none, or too large."""

    def read(self, name: str) -> bytes:
        """A picture as JPEG. Raises QuestionError where there is none of that name."""

    def forget(self, name: str) -> None:
        """Throw a picture away that no entry came to name; harmless where it is not there."""


class LinkStore(Protocol):
    """Keeps what links in messages are signed with, and lets each be used once."""

    def link_key(self) -> bytes:
        """The key that signs: always the same, whoever asks."""

    def notice(self, notice_id: int) -> Notice | None:
        """The notice of that id, or None."""

    def used(self, nonce: str) -> Used | None:
        """When the link of that nonce was used and for what; None where it was not."""

    def use(self, nonce: str, notice_id: int, use: Used, *, done: Entry | None = None, snoozed_ms: int | None = None) -> bool:
        """Use up the link of that nonce, and write down what it answers, in one transaction.

        With `done` that entry is written and the notice is seen; with `snoozed_ms` it waits until then. False where the
        link was used before: then nothing is changed.
        """


class AnsweredSeason(SeasonStore, LinkStore, Protocol):
    """Season records that keep the links too."""


class CalibrationStore(Protocol):
    """Keeps what the numbers of probes mean, and from when on."""

    def calibrations(self) -> Sequence[Calibration]:
        """All of them, those taken back too, in the order of their numbers."""

    def calibrate(self, one: Calibration) -> Calibration:
        """Keep a new one, which gets its number here; the readings since then are to be worked out anew."""

    def strike_calibration(self, number: int, at_ms: int) -> Calibration:
        """Take one back; the readings since it held are to be worked out anew. Raises QuestionError for an unknown number."""

    def to_replay(self) -> Mapping[str, int]:
        """From when on [ms measured] the readings of probes are still to be worked out anew."""

    def replayed(self, probe_id: str, from_ms: int, up_to_ms: int | None) -> None:
        """What was to be replayed from `from_ms` on is so up to a time; with None all of it is. Harmless where it was not."""


class ReportedSeason(AnsweredSeason, CalibrationStore, Protocol):
    """Season records that the collector also leaves word in of how it is."""

    def last_report(self) -> Report | None:
        """The collector's last word of itself, None before its first."""


class Notifier(Protocol):
    """A way to hand a message to a person."""

    @property
    def channel(self) -> str:
        """Its name in the outbox."""

    def tell(self, title: str, text: str) -> None:
        """Hand the message over, or raise NotifyError."""


class WeatherSource(Protocol):
    """Public weather for the place of the garden. One thread calls it; it never raises for a net that is away."""

    @property
    def name(self) -> str:
        """What the grower calls it: `weather https://…`."""

    @property
    def attribution(self) -> str:
        """Whose data it is, under which licence, and what was changed: to be shown wherever its weather is."""

    @property
    def trouble(self) -> str | None:
        """What went wrong when it was last asked, in a sentence; None when it is well."""

    @property
    def as_of_ms(self) -> int | None:
        """When the weather came that `ahead` last gave [ms]; None where it gave none."""

    def ahead(self, now_ms: int) -> Weather | None:
        """Hourly weather of the past months and at least seven days from `now_ms` on, the present [ms since 1970 UTC].

        None while there is none that is fresh enough. It asks the service where that is due, which takes some seconds.
        Raises what the store raises that keeps its answers.
        """


class WeatherStore(Protocol):
    """Keeps the last good answer of a weather service over restarts."""

    def keep_weather(self, asked: str, at_ms: int, body: str) -> None:
        """Keep the answer to the question `asked`, in the place of the one before."""

    def kept_weather(self, asked: str) -> tuple[int, str] | None:
        """When the kept answer to that very question came [ms], and the answer; None where there is none."""
