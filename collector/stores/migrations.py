"""The tables of the SQLite file, as they came about."""

from __future__ import annotations

# One entry a version, never changed once released: the next version is a new entry.
#
# A reading takes about 30 bytes: the number of its probe for its id, `raw` NULL where it
# equals `value`, the time of arrival as a delay. Keys need no second tree (WITHOUT ROWID).
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE probe (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT",
        """CREATE TABLE reading (
            probe INTEGER NOT NULL REFERENCES probe(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,                   -- NULL: the same as value
            delay_ms INTEGER NOT NULL,  -- received_ms - measured_ms
            flags INTEGER NOT NULL,
            PRIMARY KEY (probe, measured_ms)
        ) STRICT, WITHOUT ROWID""",
        "CREATE TABLE stranger (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT",
        """CREATE TABLE unclaimed (
            stranger INTEGER NOT NULL REFERENCES stranger(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            unit TEXT,
            received_ms INTEGER NOT NULL,
            source TEXT NOT NULL,
            PRIMARY KEY (stranger, measured_ms)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TABLE refusal (
            number INTEGER PRIMARY KEY,
            received_ms INTEGER NOT NULL,
            source TEXT NOT NULL,
            reason TEXT NOT NULL,
            payload BLOB NOT NULL,      -- the head of it
            size INTEGER NOT NULL       -- its true length
        ) STRICT""",
        """CREATE TABLE arrival (
            number INTEGER PRIMARY KEY,
            source TEXT NOT NULL,
            message_id INTEGER NOT NULL,
            digest BLOB NOT NULL,
            received_ms INTEGER NOT NULL,
            UNIQUE (source, message_id)
        ) STRICT""",
        # One row: what would take a walk through a whole table to find out.
        "CREATE TABLE tally (refused INTEGER NOT NULL, last_received_ms INTEGER) STRICT",
        "INSERT INTO tally VALUES (0, NULL)",
        """CREATE TABLE memory (
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            due TEXT NOT NULL,
            since_ms INTEGER NOT NULL,
            told_ms INTEGER,
            done_ms INTEGER,
            PRIMARY KEY (bed, job)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TABLE notice (
            id INTEGER PRIMARY KEY,
            raised_ms INTEGER NOT NULL,
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            title TEXT NOT NULL,
            text TEXT NOT NULL,
            seen_ms INTEGER,
            cleared_ms INTEGER
        ) STRICT""",
        """CREATE TABLE errand (
            notice INTEGER NOT NULL REFERENCES notice(id),
            channel TEXT NOT NULL,
            not_before_ms INTEGER NOT NULL,
            attempts INTEGER NOT NULL,
            delivered_ms INTEGER,
            trouble TEXT,
            PRIMARY KEY (notice, channel)
        ) STRICT, WITHOUT ROWID""",
        "CREATE INDEX open_errand ON errand (not_before_ms) WHERE delivered_ms IS NULL",
        """CREATE TABLE done (
            number INTEGER PRIMARY KEY,
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            undone_ms INTEGER,
            litres REAL
        ) STRICT""",
        "CREATE INDEX done_at ON done (at_ms)",
        # One row: what the collector last said of itself, the troubles as a JSON list.
        "CREATE TABLE report (one INTEGER PRIMARY KEY CHECK (one = 1), at_ms INTEGER NOT NULL, troubles TEXT NOT NULL) STRICT",
    ),
    (
        # One row for each bed: what was last expected of it, as JSON.
        "CREATE TABLE outlook (bed TEXT PRIMARY KEY, made_ms INTEGER NOT NULL, body TEXT NOT NULL) STRICT, WITHOUT ROWID",
    ),
    (
        # How pressing a job was when it was told; before there was "soon" ahead of time, it was due.
        "ALTER TABLE memory ADD COLUMN told TEXT",
        "UPDATE memory SET told = 'due' WHERE told_ms IS NOT NULL",
    ),
    (
        # One row: the last good answer of the public weather service as it came, and the question it answers.
        """CREATE TABLE weather (
            one INTEGER PRIMARY KEY CHECK (one = 1),
            asked TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            body TEXT NOT NULL
        ) STRICT""",
    ),
    (
        # Readings on their way to a series store elsewhere. A row is a reading as in the first version, its series
        # what the series store calls one; `look` is 1 where it may be there already, so that its flags are to be
        # heeded; `version` tells a row from the one it replaced.
        """CREATE TABLE queue_series (
            number INTEGER PRIMARY KEY,
            probe TEXT NOT NULL,
            bed TEXT NOT NULL,
            quantity TEXT NOT NULL,
            UNIQUE (probe, bed, quantity)
        ) STRICT""",
        """CREATE TABLE queue (
            series INTEGER NOT NULL REFERENCES queue_series(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,
            delay_ms INTEGER NOT NULL,
            flags INTEGER NOT NULL,
            look INTEGER NOT NULL,
            version INTEGER NOT NULL,
            PRIMARY KEY (series, measured_ms)
        ) STRICT, WITHOUT ROWID""",
        # What the intake must know of each probe when it starts while the series store is away: its newest reading,
        # and up to when it has spoken at all, dated in the future or not.
        """CREATE TABLE queue_newest (
            probe TEXT PRIMARY KEY,
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,
            delay_ms INTEGER NOT NULL,
            flags INTEGER NOT NULL,
            highest_ms INTEGER NOT NULL
        ) STRICT, WITHOUT ROWID""",
        # One row; the triggers keep it true whoever writes.
        "CREATE TABLE queue_tally (waiting INTEGER NOT NULL, version INTEGER NOT NULL) STRICT",
        "INSERT INTO queue_tally VALUES (0, 0)",
        "CREATE TRIGGER queue_in AFTER INSERT ON queue BEGIN UPDATE queue_tally SET waiting = waiting + 1; END",
        "CREATE TRIGGER queue_out AFTER DELETE ON queue BEGIN UPDATE queue_tally SET waiting = waiting - 1; END",
    ),
    (
        # How many numbered messages were ever settled: an arrival's number counts them.
        "ALTER TABLE tally ADD COLUMN numbered INTEGER NOT NULL DEFAULT 0",
        "UPDATE tally SET numbered = (SELECT coalesce(max(number), 0) FROM arrival)",
    ),
    (
        # Flags to be put on readings in a series store elsewhere, or taken off (`put` 0), when it can be reached.
        """CREATE TABLE queue_mark (
            number INTEGER PRIMARY KEY,
            probe TEXT NOT NULL,
            from_ms INTEGER NOT NULL,
            to_ms INTEGER NOT NULL,
            flag INTEGER NOT NULL,
            put INTEGER NOT NULL
        ) STRICT""",
    ),
    (
        # What was done and seen. The amounts are a JSON object; `struck_ms` is when an entry was taken back. What an entry
        # said before it was changed goes to `journal_before`, whoever changes it.
        """CREATE TABLE journal (
            number INTEGER PRIMARY KEY,
            bed TEXT NOT NULL,
            deed TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            written_ms INTEGER NOT NULL,
            planting TEXT,
            what TEXT,
            amounts TEXT NOT NULL,
            note TEXT NOT NULL,
            picture TEXT,
            struck_ms INTEGER
        ) STRICT""",
        "CREATE INDEX journal_at ON journal (at_ms)",
        """CREATE TABLE journal_before (
            order_of_change INTEGER PRIMARY KEY,
            number INTEGER NOT NULL REFERENCES journal(number),
            bed TEXT NOT NULL,
            deed TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            written_ms INTEGER NOT NULL,
            planting TEXT,
            what TEXT,
            amounts TEXT NOT NULL,
            note TEXT NOT NULL,
            picture TEXT,
            struck_ms INTEGER
        ) STRICT""",
        "CREATE INDEX journal_before_of ON journal_before (number)",
        """CREATE TRIGGER journal_changed BEFORE UPDATE ON journal BEGIN
            INSERT INTO journal_before (number, bed, deed, at_ms, written_ms, planting, what, amounts, note, picture, struck_ms)
            VALUES (old.number, old.bed, old.deed, old.at_ms, old.written_ms, old.planting, old.what, old.amounts, old.note,
                old.picture, old.struck_ms);
        END""",
        # Until now only taps on "done" were kept, by job.
        """INSERT INTO journal (bed, deed, at_ms, written_ms, amounts, note, struck_ms)
            SELECT bed, CASE job
                WHEN 'shade' THEN 'laid the shade cloth'
                WHEN 'water' THEN 'watered'
                WHEN 'look' THEN 'looked at the stake'
                WHEN 'hose' THEN 'turned the water off'
                WHEN 'stake' THEN 'pushed the stake back in'
                WHEN 'probe' THEN 'checked the probe'
                ELSE 'noted' END,
            at_ms, at_ms, iif(litres IS NULL, '{}', json_object('litres', litres)), '', undone_ms FROM done ORDER BY number""",
        "DROP TABLE done",
    ),
    (
        # What is told again, and what the grower wants to hear no more of for a while.
        "ALTER TABLE errand ADD COLUMN reminders INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE notice ADD COLUMN snoozed_ms INTEGER",
    ),
    (
        # How many bytes the refusals take that are kept, so that they can be bounded without a walk through them.
        "ALTER TABLE tally ADD COLUMN refused_bytes INTEGER NOT NULL DEFAULT 0",
        "UPDATE tally SET refused_bytes = (SELECT coalesce(sum(length(payload) + 200), 0) FROM refusal)",
    ),
    (
        # What links in messages are signed with, and which of them were used.
        "CREATE TABLE link_key (one INTEGER PRIMARY KEY CHECK (one = 1), key BLOB NOT NULL) STRICT",
        """CREATE TABLE used_link (
            nonce TEXT PRIMARY KEY,
            notice INTEGER NOT NULL REFERENCES notice(id),
            at_ms INTEGER NOT NULL,
            answer TEXT NOT NULL
        ) STRICT, WITHOUT ROWID""",
    ),
    (
        # Readings by ten minutes, hours and days (`minutes` 10, 60, 1440), `place` counting steps since 1970: see rollups.py.
        # What is `stale` (by ten minutes) is not rolled up, or not truly; `pruned` tells up to when raw readings were let go.
        """CREATE TABLE rollup (
            probe INTEGER NOT NULL REFERENCES probe(number),
            minutes INTEGER NOT NULL,
            place INTEGER NOT NULL,
            least REAL NOT NULL,
            most REAL NOT NULL,
            total REAL NOT NULL,
            moments_ms INTEGER NOT NULL,
            count INTEGER NOT NULL,
            PRIMARY KEY (probe, minutes, place)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TABLE stale (
            probe INTEGER NOT NULL REFERENCES probe(number),
            place INTEGER NOT NULL,
            PRIMARY KEY (probe, place)
        ) STRICT, WITHOUT ROWID""",
        "CREATE TABLE pruned (probe INTEGER PRIMARY KEY REFERENCES probe(number), before_ms INTEGER NOT NULL) STRICT",
        """INSERT INTO stale (probe, place)
            SELECT DISTINCT probe, (measured_ms - ((measured_ms % 600000) + 600000) % 600000) / 600000 FROM reading""",
    ),
    (
        # How many measurements wait for a probe to claim them, and which came first, so that they can be bounded.
        "ALTER TABLE tally ADD COLUMN unclaimed INTEGER NOT NULL DEFAULT 0",
        "UPDATE tally SET unclaimed = (SELECT count(*) FROM unclaimed)",
        "CREATE INDEX unclaimed_came ON unclaimed (received_ms)",
        "CREATE TRIGGER unclaimed_in AFTER INSERT ON unclaimed BEGIN UPDATE tally SET unclaimed = unclaimed + 1; END",
        "CREATE TRIGGER unclaimed_out AFTER DELETE ON unclaimed BEGIN UPDATE tally SET unclaimed = unclaimed - 1; END",
    ),
    (
        # When a job that was told stood no longer, so that a forecast that wavers is not told again at once.
        "ALTER TABLE memory ADD COLUMN recovered_ms INTEGER",
    ),
    (
        # In which unit a probe sends its numbers, from when on; the usual unit of its quantity needs no row.
        """CREATE TABLE spoken (
            probe TEXT NOT NULL,
            from_ms INTEGER NOT NULL,
            unit TEXT NOT NULL,
            PRIMARY KEY (probe, from_ms)
        ) STRICT, WITHOUT ROWID""",
        # What a probe's numbers mean, and from when on: see calibration.py. None is ever changed but to be taken back.
        """CREATE TABLE calibration (
            number INTEGER PRIMARY KEY,
            probe TEXT NOT NULL,
            from_ms INTEGER NOT NULL,
            curve TEXT NOT NULL,
            written_ms INTEGER NOT NULL,
            note TEXT NOT NULL,
            struck_ms INTEGER
        ) STRICT""",
        # From when on the readings of a probe are still to be worked out anew.
        "CREATE TABLE to_replay (probe TEXT PRIMARY KEY, from_ms INTEGER NOT NULL) STRICT, WITHOUT ROWID",
    ),
)
