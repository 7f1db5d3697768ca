"""Empties the durable queue into InfluxDB: marks first, then readings, and drops only what is known to have arrived.

Writes go through the client's v2 API, one request at a time and each of them answered: its batching in the background
gives batches up when the database is away for long, and a process that dies takes them along.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import msgspec
from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write.point import Point
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.rest import ApiException
from msgspec.structs import replace as with_fields
from urllib3.exceptions import HTTPError

from collector.calls import Due
from collector.errors import StoreBusyError, StoreError
from collector.model import Reading, Refusal
from collector.ports import Clock
from collector.settings import StoreSettings
from collector.stores.influxql import EARLIEST_MS, LATEST_MS, TIMEOUT_S, InfluxQL, away, refused
from collector.stores.keys import with_flags_kept
from collector.stores.queue import Queue
from collector.stores.queued import Look, Mark, Waiting

# A request holds so many points; InfluxData recommends 5000 in its notes on how to write well.
BATCH_ROWS = 5000
# An idle queue is looked into as often as this; a page shows what waits in it at once, so this hurries nobody.
IDLE_S = 0.5
RETRY_FIRST_S, RETRY_MAX_S = 1.0, 60.0
# InfluxDB that has taken nothing for as long as this while readings wait is worth a message to the grower.
ALARM_AFTER_S = 3600.0
# A reading that may overwrite nothing is moved no further than this in one go.
PLACES_MS = 10_000


class Shipper:
    """Takes from `queue` and writes to the bucket that `settings` name. One thread calls `step`."""

    def __init__(self, queue: Queue, influx: InfluxQL, settings: StoreSettings, clock: Clock) -> None:
        """It opens nothing before the first step. `queue` and `influx` are the caller's to close."""
        assert settings.url is not None
        assert settings.org is not None
        assert settings.bucket is not None
        self.name = f"influx {settings.url}"
        self.shipped = 0
        self._queue, self._influx, self._clock = queue, influx, clock
        self._bucket, self._org = settings.bucket, settings.org
        self._client = InfluxDBClient(settings.url, settings.token or "", org=settings.org, timeout=int(TIMEOUT_S * 1000))
        self._write_api = self._client.write_api(write_options=SYNCHRONOUS)
        self._heads: dict[tuple[str, str, str], str] = {}
        self._trouble: str | None = None
        self._stepped = False
        self._away_since_s: float | None = None
        self._retry_s = RETRY_FIRST_S
        self._set_aside = 0
        self._last_reason = ""

    @property
    def trouble(self) -> str | None:
        """Why readings wait, or that some were set aside, in a sentence; None when all is well."""
        if self._trouble is not None:
            return f"readings wait on this computer: {self._trouble}"
        if self._set_aside:
            many = "1 reading was" if self._set_aside == 1 else f"{self._set_aside} readings were"
            return f"since the start {many} set aside, for InfluxDB refused them ({self._last_reason}); see `cooldepth refused`"
        return None

    @property
    def alarm(self) -> tuple[Due, str] | None:
        """What the grower should be told wherever they are, and how pressing it is; None when nothing is.

        Due.NOT_KNOWN before the first step, and while InfluxDB is away for less than an hour: then what was told by a
        collector before this one may still stand.
        """
        if not self._stepped:
            return Due.NOT_KNOWN, ""
        if self._trouble is None or self._away_since_s is None:
            return None
        waiting = self._queue.waiting
        if self._queue.full:
            return Due.DUE, f"The {waiting} readings that wait fill the queue, so that nothing more is taken: {self._trouble}."
        away_s = self._clock.elapsed_s() - self._away_since_s
        if away_s < ALARM_AFTER_S:
            return Due.NOT_KNOWN, ""
        room = max(0, self._queue.most - waiting)
        return Due.SOON, f"{waiting} readings wait on this computer, and there is room for {room} more: {self._trouble}."

    def step(self) -> float:
        """Ship what waits, up to one batch. Answers how long to wait [s] before the next step."""
        try:
            for mark in self._queue.marks():
                self._ship_mark(mark)
            rows = self._queue.take(BATCH_ROWS)
            if rows:
                self._ship(self._looked_at(rows))
        except StoreError as error:
            self._trouble = str(error)
            if self._away_since_s is None:
                self._away_since_s = self._clock.elapsed_s()
            self._stepped = True
            wait_s, self._retry_s = self._retry_s, min(2 * self._retry_s, RETRY_MAX_S)
            return wait_s
        self._trouble, self._away_since_s, self._retry_s = None, None, RETRY_FIRST_S
        self._stepped = True
        return 0.0 if len(rows) == BATCH_ROWS else IDLE_S

    def reach(self) -> None:
        """Raise StoreBusyError unless readings could be written and read here; writes nothing."""
        try:
            self._write(["# a comment alone: no point is written"])
        except ApiException as error:
            if not _blames_lines(error):  # it found no fault with us, only nothing to write
                raise StoreBusyError(f"{self._influx.where}: {refused(error.status, _text(error), self._bucket)}") from error
        self._influx.reach()

    def close(self) -> None:
        """Let go of the connection. Harmless when called twice."""
        self._client.close()  # type: ignore[no-untyped-call]

    # ------------------------------------------------------------ before it is written

    def _looked_at(self, rows: Sequence[Waiting]) -> list[Waiting]:
        """The rows as they are to be written: with the flags that stand there already, at places that are free."""
        ready = [row for row in rows if row.look is Look.NONE]
        for probe_id, group in groupby(
            (row for row in rows if row.look is Look.FLAGS and _has_time(row.reading)), key=lambda row: row.reading.probe_id
        ):
            some = list(group)
            times_ms = {row.reading.measured_ms for row in some}
            there = {
                one.measured_ms: one
                for one in self._influx.readings(probe_id, min(times_ms), max(times_ms) + 1)
                if one.measured_ms in times_ms
            }
            ready += [replace(row, reading=with_flags_kept(row.reading, there.get(row.reading.measured_ms))) for row in some]
        for row in rows:
            if row.look is Look.PLACE and _has_time(row.reading):
                from_ms = row.reading.measured_ms
                taken = list(self._influx.readings(row.reading.probe_id, from_ms, from_ms + PLACES_MS))
                placed = self._queue.place(row, taken, from_ms + PLACES_MS)
                if placed is not None and placed.look is Look.NONE:
                    ready.append(placed)
            elif row.look is not Look.NONE and not _has_time(row.reading):
                ready.append(row)  # for InfluxDB to refuse
        return ready

    def _ship_mark(self, mark: Mark) -> None:
        """Put the flag on what has arrived. What still waits has it already; nothing else is shipped meanwhile."""
        changed: list[Waiting] = []
        for one, bed, quantity in self._influx.tagged(mark.probe_id, mark.from_ms, mark.to_ms):
            flags = mark.on_flags(one)
            if flags != one.flags:
                changed.append(Waiting(with_fields(one, flags=flags), bed, quantity, Look.NONE, 0, 0))
        for begin in range(0, len(changed), BATCH_ROWS):
            try:
                self._write([self._line(row) for row in changed[begin : begin + BATCH_ROWS]])
            except ApiException as error:
                told = refused(error.status, _text(error), self._bucket)
                if not _blames_lines(error):
                    raise StoreBusyError(f"{self._influx.where}: {told}") from error
                self._last_reason = f"{told}, to flags of {mark.probe_id}"
                self._set_aside += len(changed)
        self._queue.drop_mark(mark)

    # ------------------------------------------------------------ writing

    def _ship(self, rows: Sequence[Waiting]) -> None:
        """Write and drop; what InfluxDB refuses is found by halves, so that everything else is proven to be written."""
        if not rows:
            return
        try:
            self._write([self._line(row) for row in rows])
        except ApiException as error:
            told = refused(error.status, _text(error), self._bucket)
            too_large = error.status == 413
            if len(rows) == 1 and _blames_lines(error):
                self._refuse(rows[0], told)
            elif len(rows) > 1 and (too_large or _blames_lines(error)):
                half = len(rows) // 2
                self._ship(rows[:half])
                self._ship(rows[half:])
            else:
                raise StoreBusyError(f"{self._influx.where}: {told}") from error
        else:
            self._queue.drop(rows)
            self.shipped += len(rows)

    def _refuse(self, row: Waiting, told: str) -> None:
        line = self._line(row).encode()
        reason = f"{row.reading.probe_id}: InfluxDB refused it, {told}"
        self._queue.set_aside(row, Refusal(self._clock.now_ms(), self.name, reason, line, len(line)))
        self._set_aside += 1
        self._last_reason = told

    def _write(self, lines: Sequence[str]) -> None:
        """One request. Raises ApiException where InfluxDB answers and refuses, StoreBusyError where it cannot be reached."""
        body = "\n".join(lines).encode()
        try:
            self._write_api.write(self._bucket, self._org, body, write_precision="ms")  # type: ignore[arg-type]
        except (HTTPError, OSError) as error:
            raise StoreBusyError(f"{self._influx.where}: {away(error)}") from error

    def _line(self, row: Waiting) -> str:
        """The reading in line protocol, every field always there and of one type: a later one replaces it whole."""
        one, tags = row.reading, (row.reading.probe_id, row.bed, row.quantity)
        head = self._heads.get(tags)
        if head is None:
            # The client knows what to escape in tags; for each reading it would take thirty times as long.
            tagged = {"probe": tags[0], "bed": tags[1], "quantity": tags[2]}
            point = Point.from_dict({"measurement": "reading", "tags": tagged, "fields": {"value": 0.0}})
            head = self._heads[tags] = str(point.to_line_protocol()).rpartition(" ")[0]
        fields = f"value={one.value!r},raw={one.raw!r},flags={int(one.flags)}i,received_ms={one.received_ms}i"
        return f"{head} {fields} {one.measured_ms}"


def _has_time(one: Reading) -> bool:
    """Whether InfluxDB could hold a reading of that time."""
    return EARLIEST_MS < one.measured_ms < LATEST_MS


def _blames_lines(error: ApiException) -> bool:
    """Whether InfluxDB itself says that something is wrong with what was sent: a proxy's 400 must not empty the queue.

    InfluxDB 1 answers 400 with an `error`, InfluxDB 2 400 or 422 with a `code` and a `message`.
    """
    if error.status not in (400, 422):
        return False
    try:
        told = msgspec.json.decode(_text(error).encode())
    except msgspec.DecodeError:
        return False
    return isinstance(told, dict) and ("error" in told or {"code", "message"} <= told.keys())


def _text(error: ApiException) -> str:
    body = error.body
    return body.decode(errors="replace") if isinstance(body, bytes) else str(body or error.reason or "")
