"""Questions to InfluxDB in InfluxQL over `/query`, the one dialect that its versions 1.8, 2 and 3 answer.

Every trouble is a StoreBusyError: whatever is wrong with a server may be put right while we run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Generic, TypeVar

import httpx
import msgspec
import numpy as np

from collector.errors import StoreBusyError
from collector.model import DISTRUSTED, Flag, Reading
from collector.rollup import Every, Sums
from collector.settings import StoreSettings

TIMEOUT_S = 10.0
# So many rows are asked for at once; a season of a probe passes through in a few megabytes.
PAGE_ROWS = 20_000
# InfluxDB counts nanoseconds in 64 bits: nothing stands before or after these [ms].
EARLIEST_MS, LATEST_MS = -9_223_372_036_854, 9_223_372_036_854

# Time, and what our points hold. Points of other writers may lack all but the value.
Row = tuple[int, float | None, float | None, int | None, int | None, str | None, str | None]
Brief = tuple[int, float | None, int | None]
FIELD_KINDS = {"value": "float", "raw": "float", "flags": "integer", "received_ms": "integer"}
_COLUMNS = '"value", "raw", "flags", "received_ms", "bed", "quantity"'
_AnyRow = TypeVar("_AnyRow")


class _Series(msgspec.Struct, Generic[_AnyRow]):
    values: list[_AnyRow]
    tags: dict[str, str] = {}


class _Result(msgspec.Struct, Generic[_AnyRow]):
    series: list[_Series[_AnyRow]] = []
    error: str | None = None


class _Answer(msgspec.Struct, Generic[_AnyRow]):
    results: list[_Result[_AnyRow]] = []
    error: str | None = None


_ROWS = msgspec.json.Decoder(_Answer[Row])
_BRIEFS = msgspec.json.Decoder(_Answer[Brief])
_SUMS = msgspec.json.Decoder(_Answer[tuple[int, float, float, float, int]])
_KINDS = msgspec.json.Decoder(_Answer[tuple[str, str]])


class InfluxQL:
    """Asks one database, for any thread. In InfluxDB 2 and later the bucket's name must be mapped to it."""

    def __init__(self, settings: StoreSettings) -> None:
        """It opens nothing before the first question."""
        assert settings.url is not None
        self.where = f"InfluxDB {settings.url}"
        self._bucket = settings.bucket
        headers = {"Authorization": f"Token {settings.token}"} if settings.token else {}
        # Not by way of a proxy that the environment may name for the internet: the database is our own.
        self._http = httpx.Client(base_url=settings.url.rstrip("/"), headers=headers, timeout=TIMEOUT_S, trust_env=False)

    def readings(self, probe_id: str, from_ms: int, to_ms: int, page_rows: int = PAGE_ROWS) -> Iterator[Reading]:
        """The probe's readings with from_ms <= measured_ms < to_ms, oldest first, each time once, streamed."""
        return (reading for reading, _, _ in self.tagged(probe_id, from_ms, to_ms, page_rows))

    def tagged(self, probe_id: str, from_ms: int, to_ms: int, page_rows: int = PAGE_ROWS) -> Iterator[tuple[Reading, str, str]]:
        """The same, with the bed and the quantity under which they stand."""
        last_ms: int | None = None
        for row in self._pages(_ROWS, _COLUMNS, probe_id, from_ms, to_ms, page_rows):
            if row[1] is not None and row[0] != last_ms:  # a probe that was moved may have spoken in two beds at one time
                yield _reading(probe_id, row), row[5] or "", row[6] or ""
                last_ms = row[0]

    def briefs(self, probe_id: str, from_ms: int, to_ms: int) -> Iterator[tuple[int, float, int]]:
        """Time, value and flags of the same readings."""
        last_ms: int | None = None
        for time_ms, value, flags in self._pages(_BRIEFS, '"value", "flags"', probe_id, from_ms, to_ms, PAGE_ROWS):
            if value is not None and time_ms != last_ms:
                yield time_ms, value, flags or 0
                last_ms = time_ms

    def sums(self, probe_id: str, from_ms: int, to_ms: int, every: Every) -> Sums:
        """What may be believed of the same readings, in steps; the times of each step as if all were at its middle.

        Points without flags, of other writers, are not among them. `from_ms` and `to_ms` are ends of steps.
        """
        answer = self._ask(
            _SUMS,
            'SELECT min("value"), max("value"), sum("value"), count("value") FROM "reading" '
            f'WHERE "probe" = {quoted(probe_id)} AND time >= {max(from_ms, EARLIEST_MS)}ms AND time < {min(to_ms, LATEST_MS)}ms '
            f'AND "flags" & {int(DISTRUSTED)} = 0 GROUP BY time({every // 1000}s) fill(none)',
        )
        rows = [row for result in answer.results for series in result.series for row in series.values]
        times_ms, least, most, total, counts = zip(*rows, strict=True) if rows else ((), (), (), (), ())
        count = np.array(counts, dtype=np.int64)
        return Sums(
            np.array(times_ms, dtype=np.int64) // every,
            np.array(least, dtype=np.float64),
            np.array(most, dtype=np.float64),
            np.array(total, dtype=np.float64),
            count * (every // 2),
            count,
        )

    def newest(self) -> Sequence[Reading]:
        """The newest reading of each probe; of those that have one flagged FUTURE, the newest other too."""
        not_future = f'"flags" & {int(Flag.FUTURE)} = 0'
        newest = f'SELECT {_COLUMNS} FROM "reading" {{}}GROUP BY "probe" ORDER BY time DESC LIMIT 1'
        answer = self._ask(_ROWS, f"{newest.format('')};{newest.format(f'WHERE {not_future} ')}")
        return [
            _reading(series.tags.get("probe", ""), row)
            for result in answer.results
            for series in result.series
            for row in series.values
            if row[1] is not None
        ]

    def reach(self) -> None:
        """Raise StoreBusyError unless readings can be read here, and what stands there already is of the types of ours."""
        answer = self._ask(_KINDS, 'SHOW FIELD KEYS FROM "reading"')
        kinds = {field: kind for result in answer.results for series in result.series for field, kind in series.values}
        wrong = [
            f"{field} is {kinds[field]}, not {kind}" for field, kind in FIELD_KINDS.items() if kinds.get(field, kind) != kind
        ]
        if wrong:
            raise StoreBusyError(
                f"{self.where}: another program has written readings to bucket {self._bucket} whose {'; '.join(wrong)}, so that "
                "ours would be refused; give store.bucket another one"
            )

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        self._http.close()

    def _pages(
        self, decoder: msgspec.json.Decoder[_Answer[_AnyRow]], columns: str, probe_id: str, from_ms: int, to_ms: int, rows: int
    ) -> Iterator[_AnyRow]:
        begin_ms, end_ms = max(from_ms, EARLIEST_MS), min(to_ms, LATEST_MS)
        while begin_ms < end_ms:
            answer = self._ask(
                decoder,
                f'SELECT {columns} FROM "reading" WHERE "probe" = {quoted(probe_id)} '
                f"AND time >= {begin_ms}ms AND time < {end_ms}ms LIMIT {rows}",
            )
            page = [row for result in answer.results for series in result.series for row in series.values]
            yield from page
            if len(page) < rows:
                return
            begin_ms = page[-1][0] + 1  # type: ignore[index]  # every row begins with its time

    def _ask(self, decoder: msgspec.json.Decoder[_Answer[_AnyRow]], question: str) -> _Answer[_AnyRow]:
        try:
            told = self._http.get("/query", params={"db": self._bucket, "q": question, "epoch": "ms"})
        except httpx.HTTPError as error:
            raise StoreBusyError(f"{self.where}: {away(error)}") from error
        except RuntimeError as error:  # httpx says so of a client that was closed
            raise StoreBusyError(f"{self.where}: {error}") from error
        if told.is_error:
            raise StoreBusyError(f"{self.where}: {refused(told.status_code, told.text, self._bucket)}")
        try:
            answer = decoder.decode(told.content)
        except msgspec.MsgspecError as error:
            raise StoreBusyError(
                f"{self.where}: its answer is no InfluxQL ({error}); see that the url is that of InfluxDB"
            ) from error
        # A database that is not there is told inside of an answer that is otherwise well.
        wrong = answer.error or next((result.error for result in answer.results if result.error), None)
        if wrong is not None:
            raise StoreBusyError(f"{self.where}: it says {wrong!r}; {_MAPPING.format(bucket=self._bucket)}")
        return answer


_MAPPING = "see that bucket {bucket} is there, and in InfluxDB 2 mapped to a database of that name"


def quoted(text: str) -> str:
    """A text as InfluxQL writes it."""
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'").replace("\n", "\\n") + "'"


def away(error: Exception) -> str:
    """In a sentence: it cannot be reached."""
    return f"it cannot be reached ({str(error) or type(error).__name__}); see that it runs, and that store.url is its address"


def refused(status: int, text: str, bucket: str | None) -> str:
    """In a sentence: it answers, and does not do what it was asked."""
    told = f"it answers {status}{_said(text)}"
    if status in (401, 403):
        return f"{told}; put a token that may read and write bucket {bucket} into COOLDEPTH_INFLUX_TOKEN"
    if status == 404:
        return f"{told}; {_MAPPING.format(bucket=bucket)}"
    return told


def _said(text: str) -> str:
    """What InfluxDB says of it, and not the page of a proxy before it."""
    try:
        answer = msgspec.json.decode(text)
    except msgspec.MsgspecError:
        return ""
    said = answer.get("error") or answer.get("message") if isinstance(answer, dict) else None
    return f", {str(said)[:200]!r}" if said else ""


def _reading(probe_id: str, row: Row) -> Reading:
    time_ms, value, raw, flags, received_ms, _, _ = row
    assert value is not None
    return Reading(
        probe_id,
        time_ms,
        value,
        value if raw is None else raw,
        time_ms if received_ms is None else received_ms,
        Flag(flags or 0),
    )
