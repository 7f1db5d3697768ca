"""The season's own records in SQLite: what the rules remember, what was told, what was done.

The collector's advisor and the dashboard write here beside the intake; each write is one
short transaction that waits its turn.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import astuple
from pathlib import Path
from typing import Any

from collector.calibration import Calibration
from collector.calls import DoneMark, Due, Errand, Job, Memory, Notice, Report, Used
from collector.errors import QuestionError
from collector.journal import DEED_OF, Entry, done_marks
from collector.outlook import Outlook, from_plain, to_plain
from collector.stores import calibrations, journal, links
from collector.stores.schema import Writer

_MEMORY = "bed, job, due, since_ms, told_ms, done_ms, told, recovered_ms"
_NOTICE = "notice.id, raised_ms, bed, job, title, text, seen_ms, cleared_ms, snoozed_ms"
_ERRAND = "channel, not_before_ms, attempts, delivered_ms, trouble, reminders"


class SqliteSeason:
    """Season records (`ports.SeasonStore`), for any thread. Every method raises StoreBusyError or StoreError in trouble."""

    def __init__(self, path: Path) -> None:
        """Open the file, made here if it is not there. Raises what `schema.open_writer` raises."""
        self._writer = Writer(path)

    def memories(self) -> Mapping[tuple[str, Job], Memory]:
        """What the rules remember, by bed and job."""
        with self._writer.reading() as connection:
            rows = connection.execute(f"SELECT {_MEMORY} FROM memory")
            return {
                (bed, Job(job)): Memory(
                    bed, Job(job), Due(due), since_ms, told_ms, done_ms, None if told is None else Due(told), recovered_ms
                )
                for bed, job, due, since_ms, told_ms, done_ms, told, recovered_ms in rows
            }

    def record(self, memories: Sequence[Memory], raised: Sequence[tuple[Notice, Sequence[Errand]]]) -> None:
        """Save memories, notices (their ids are given here) and errands in one transaction.

        A notice that has an id already (not 0) is in the record: only its `cleared_ms` is saved again.
        """
        with self._writer.transaction() as connection:
            connection.executemany(
                f"INSERT OR REPLACE INTO memory ({_MEMORY}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                [astuple(one) for one in memories],
            )
            for notice, errands in raised:
                number = _save_notice(connection, notice)
                connection.executemany(
                    f"INSERT INTO errand (notice, {_ERRAND}) VALUES (?, ?, ?, ?, ?, ?, ?)",
                    [(number, *_errand_row(one)) for one in errands],
                )

    def notices(self, limit: int) -> Sequence[Notice]:
        """The newest notices first."""
        with self._writer.reading() as connection:
            rows = connection.execute(f"SELECT {_NOTICE} FROM notice ORDER BY raised_ms DESC, id DESC LIMIT ?", (limit,))
            return tuple(_notice(row) for row in rows)

    def errands(self, now_ms: int | None) -> Sequence[Errand]:
        """Errands not yet run and not to be held beyond `now_ms`, oldest first; with None all open ones."""
        with self._writer.reading() as connection:
            rows = connection.execute(
                f"""SELECT {_NOTICE}, {_ERRAND} FROM errand JOIN notice ON notice.id = errand.notice
                WHERE delivered_ms IS NULL AND (?1 IS NULL OR not_before_ms <= ?1) ORDER BY raised_ms, notice.id, channel""",
                (now_ms,),
            )
            return tuple(_errand(row) for row in rows)

    def delivered(self, since_ms: int) -> Sequence[Errand]:
        """Errands that were delivered since then, whose notices are neither cleared nor seen, oldest first."""
        with self._writer.reading() as connection:
            rows = connection.execute(
                f"""SELECT {_NOTICE}, {_ERRAND} FROM errand JOIN notice ON notice.id = errand.notice
                WHERE delivered_ms >= ? AND cleared_ms IS NULL AND seen_ms IS NULL ORDER BY raised_ms, notice.id, channel""",
                (since_ms,),
            )
            return tuple(_errand(row) for row in rows)

    def ways(self, notice_ids: Sequence[int]) -> Sequence[Errand]:
        """How these notices went to each phone, oldest first."""
        marks = ", ".join("?" * len(notice_ids))
        with self._writer.reading() as connection:
            rows = connection.execute(
                f"""SELECT {_NOTICE}, {_ERRAND} FROM errand JOIN notice ON notice.id = errand.notice
                WHERE notice.id IN ({marks}) ORDER BY notice.id, channel""",
                tuple(notice_ids),
            )
            return tuple(_errand(row) for row in rows)

    def settle(self, errand: Errand) -> None:
        """Save how an errand went: delivered, or its attempts, trouble and next time."""
        with self._writer.transaction() as connection:
            changed = connection.execute(
                """UPDATE errand SET not_before_ms = ?2, attempts = ?3, delivered_ms = ?4, trouble = ?5, reminders = ?6
                WHERE notice = ?7 AND channel = ?1""",
                (*_errand_row(errand), errand.notice.id),
            ).rowcount
            if not changed:
                raise QuestionError(
                    f"errand to {errand.channel} for notice {errand.notice.id}: not in the record; settle one of `errands`"
                )

    def write(self, entry: Entry) -> Entry:
        """Keep an entry of the journal: a new one, which gets its number here, or a change of one that has its number."""
        with self._writer.transaction() as connection:
            return journal.write(connection, entry)

    def entries(self, from_ms: int, to_ms: int, *, struck: bool = False) -> Sequence[Entry]:
        """Entries with from_ms <= at_ms < to_ms, oldest first; with `struck` those taken back too."""
        with self._writer.reading() as connection:
            return journal.entries(connection, from_ms, to_ms, struck=struck)

    def versions(self, number: int) -> Sequence[Entry]:
        """What an entry said from the first time on, the present last. Raises QuestionError for an unknown number."""
        with self._writer.reading() as connection:
            return journal.versions(connection, number)

    def done(self, bed_id: str, job: Job, at_ms: int, litres: float | None = None) -> None:
        """The grower says the job is done, with so much water [L] where that is told."""
        amounts = {} if litres is None else {"litres": litres}
        self.write(Entry(bed_id, DEED_OF[job], at_ms, at_ms, amounts=amounts))

    def undo(self, bed_id: str, job: Job, at_ms: int) -> None:
        """Take back the newest entry that says so and stands; harmless where none does."""
        with self._writer.transaction() as connection:
            journal.strike_newest(connection, bed_id, DEED_OF[job], at_ms)

    def done_marks(self, from_ms: int, to_ms: int) -> Sequence[DoneMark]:
        """Marks with from_ms <= at_ms < to_ms, oldest first, those taken back among them."""
        return done_marks(self.entries(from_ms, to_ms, struck=True))

    def see(self, notice_id: int, at_ms: int) -> None:
        """The grower has seen this notice; the first time counts. Raises QuestionError for an unknown id."""
        with self._writer.transaction() as connection:
            _change_notice(connection, notice_id, "seen_ms = coalesce(seen_ms, ?)", at_ms)

    def snooze(self, notice_id: int, until_ms: int) -> None:
        """The grower wants to hear no more of this notice until then. Raises QuestionError for an unknown id."""
        with self._writer.transaction() as connection:
            _change_notice(connection, notice_id, "snoozed_ms = ?", until_ms)

    def notice(self, notice_id: int) -> Notice | None:
        """The notice of that id, or None."""
        with self._writer.reading() as connection:
            found = connection.execute(f"SELECT {_NOTICE} FROM notice WHERE id = ?", (notice_id,)).fetchone()
        return None if found is None else _notice(found)

    def link_key(self) -> bytes:
        """The key that signs links in messages: always the same, whoever asks."""
        with self._writer.transaction() as connection:
            return links.key(connection)

    def used(self, nonce: str) -> Used | None:
        """When the link of that nonce was used and for what; None where it was not."""
        with self._writer.reading() as connection:
            return links.used(connection, nonce)

    def use(self, nonce: str, notice_id: int, use: Used, *, done: Entry | None = None, snoozed_ms: int | None = None) -> bool:
        """Use up the link of that nonce, and write down what it answers (see `ports.LinkStore`); False where it was used."""
        with self._writer.transaction() as connection:
            if not links.use(connection, nonce, notice_id, use):
                return False
            if done is not None:
                journal.write(connection, done)
                _change_notice(connection, notice_id, "seen_ms = coalesce(seen_ms, ?)", use.at_ms)
            if snoozed_ms is not None:
                _change_notice(connection, notice_id, "snoozed_ms = ?", snoozed_ms)
            return True

    def report(self, troubles: Sequence[str], at_ms: int) -> None:
        """The collector is up and has these troubles; only its last word is kept."""
        with self._writer.transaction() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO report (one, at_ms, troubles) VALUES (1, ?, ?)", (at_ms, json.dumps(list(troubles)))
            )

    def last_report(self) -> Report | None:
        """The collector's last word of itself, None before its first."""
        with self._writer.reading() as connection:
            found = connection.execute("SELECT at_ms, troubles FROM report").fetchone()
        return None if found is None else Report(int(found[0]), tuple(json.loads(found[1])))

    def keep_outlook(self, outlook: Outlook) -> None:
        """Keep what is expected of a bed, in the place of what was expected before."""
        body = json.dumps(to_plain(outlook), separators=(",", ":"))
        with self._writer.transaction() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO outlook (bed, made_ms, body) VALUES (?, ?, ?)", (outlook.bed_id, outlook.made_ms, body)
            )

    def outlook(self, bed_id: str, not_before_ms: int) -> Outlook | None:
        """What is expected of a bed; None where nothing is, or nothing as fresh as that."""
        with self._writer.reading() as connection:
            found = connection.execute(
                "SELECT body FROM outlook WHERE bed = ? AND made_ms >= ?", (bed_id, not_before_ms)
            ).fetchone()
        return None if found is None else from_plain(json.loads(found[0]))

    def keep_weather(self, asked: str, at_ms: int, body: str) -> None:
        """Keep the answer of a weather service to the question `asked`, in the place of the one before."""
        with self._writer.transaction() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO weather (one, asked, at_ms, body) VALUES (1, ?, ?, ?)", (asked, at_ms, body)
            )

    def kept_weather(self, asked: str) -> tuple[int, str] | None:
        """When the kept answer to that very question came [ms], and the answer; None where there is none."""
        with self._writer.reading() as connection:
            found: tuple[int, str] | None = connection.execute(
                "SELECT at_ms, body FROM weather WHERE asked = ?", (asked,)
            ).fetchone()
        return found

    def calibrations(self) -> Sequence[Calibration]:
        """All of them, those taken back too, in the order of their numbers."""
        with self._writer.reading() as connection:
            return calibrations.everything(connection)

    def calibrate(self, one: Calibration) -> Calibration:
        """Keep a new calibration, which gets its number here; the readings since then are to be worked out anew."""
        with self._writer.transaction() as connection:
            return calibrations.keep(connection, one)

    def strike_calibration(self, number: int, at_ms: int) -> Calibration:
        """Take a calibration back (`ports.CalibrationStore`). Raises QuestionError for an unknown number."""
        with self._writer.transaction() as connection:
            return calibrations.strike(connection, number, at_ms)

    def to_replay(self) -> Mapping[str, int]:
        """From when on [ms measured] the readings of probes are still to be worked out anew."""
        with self._writer.reading() as connection:
            return calibrations.to_replay(connection)

    def replayed(self, probe_id: str, from_ms: int, up_to_ms: int | None) -> None:
        """What was to be replayed is so up to a time, or all of it (`ports.CalibrationStore`)."""
        with self._writer.transaction() as connection:
            calibrations.replayed(connection, probe_id, from_ms, up_to_ms)

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        self._writer.close()


def _save_notice(connection: sqlite3.Connection, notice: Notice) -> int:
    if notice.id:
        connection.execute("UPDATE notice SET cleared_ms = ? WHERE id = ?", (notice.cleared_ms, notice.id))
        return notice.id
    new = connection.execute(
        "INSERT INTO notice (raised_ms, bed, job, title, text, seen_ms, cleared_ms) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (notice.raised_ms, notice.bed_id, notice.job, notice.title, notice.text, notice.seen_ms, notice.cleared_ms),
    )
    number = new.lastrowid
    assert number is not None  # an INSERT of one row has always given it a number
    return number


def _change_notice(connection: sqlite3.Connection, notice_id: int, change: str, at_ms: int) -> None:
    if not connection.execute(f"UPDATE notice SET {change} WHERE id = ?", (at_ms, notice_id)).rowcount:
        raise QuestionError(f"notice {notice_id}: there is none of that number; take one of the list of notices")


def _notice(row: Sequence[Any]) -> Notice:
    id_, raised_ms, bed_id, job, *rest = row
    return Notice(id_, raised_ms, bed_id, Job(job), *rest)


def _errand(row: Sequence[Any]) -> Errand:
    return Errand(_notice(row[:9]), *row[9:])


def _errand_row(errand: Errand) -> tuple[Any, ...]:
    return (errand.channel, errand.not_before_ms, errand.attempts, errand.delivered_ms, errand.trouble, errand.reminders)
