PRAGMA application_id=1131376492;
PRAGMA user_version=14;
BEGIN TRANSACTION;
CREATE TABLE arrival (
            number INTEGER PRIMARY KEY,
            source TEXT NOT NULL,
            message_id INTEGER NOT NULL,
            digest BLOB NOT NULL,
            received_ms INTEGER NOT NULL,
            UNIQUE (source, message_id)
        ) STRICT;
CREATE TABLE errand (
            notice INTEGER NOT NULL REFERENCES notice(id),
            channel TEXT NOT NULL,
            not_before_ms INTEGER NOT NULL,
            attempts INTEGER NOT NULL,
            delivered_ms INTEGER,
            trouble TEXT, reminders INTEGER NOT NULL DEFAULT 0,
            PRIMARY KEY (notice, channel)
        ) STRICT, WITHOUT ROWID;
CREATE TABLE journal (
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
        ) STRICT;
INSERT INTO "journal" VALUES(1,'terrace','watered',1790003600000,1790003600000,NULL,NULL,'{"litres": 30.0}','',NULL,NULL);
CREATE TABLE journal_before (
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
        ) STRICT;
CREATE TABLE link_key (one INTEGER PRIMARY KEY CHECK (one = 1), key BLOB NOT NULL) STRICT;
CREATE TABLE memory (
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            due TEXT NOT NULL,
            since_ms INTEGER NOT NULL,
            told_ms INTEGER,
            done_ms INTEGER, told TEXT, recovered_ms INTEGER,
            PRIMARY KEY (bed, job)
        ) STRICT, WITHOUT ROWID;
CREATE TABLE notice (
            id INTEGER PRIMARY KEY,
            raised_ms INTEGER NOT NULL,
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            title TEXT NOT NULL,
            text TEXT NOT NULL,
            seen_ms INTEGER,
            cleared_ms INTEGER
        , snoozed_ms INTEGER) STRICT;
CREATE TABLE outlook (bed TEXT PRIMARY KEY, made_ms INTEGER NOT NULL, body TEXT NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE probe (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT;
INSERT INTO "probe" VALUES(1,'t12');
INSERT INTO "probe" VALUES(2,'m15');
CREATE TABLE pruned (probe INTEGER PRIMARY KEY REFERENCES probe(number), before_ms INTEGER NOT NULL) STRICT;
CREATE TABLE queue (
            series INTEGER NOT NULL REFERENCES queue_series(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,
            delay_ms INTEGER NOT NULL,
            flags INTEGER NOT NULL,
            look INTEGER NOT NULL,
            version INTEGER NOT NULL,
            PRIMARY KEY (series, measured_ms)
        ) STRICT, WITHOUT ROWID;
CREATE TABLE queue_mark (
            number INTEGER PRIMARY KEY,
            probe TEXT NOT NULL,
            from_ms INTEGER NOT NULL,
            to_ms INTEGER NOT NULL,
            flag INTEGER NOT NULL,
            put INTEGER NOT NULL
        ) STRICT;
CREATE TABLE queue_newest (
            probe TEXT PRIMARY KEY,
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,
            delay_ms INTEGER NOT NULL,
            flags INTEGER NOT NULL,
            highest_ms INTEGER NOT NULL
        ) STRICT, WITHOUT ROWID;
CREATE TABLE queue_series (
            number INTEGER PRIMARY KEY,
            probe TEXT NOT NULL,
            bed TEXT NOT NULL,
            quantity TEXT NOT NULL,
            UNIQUE (probe, bed, quantity)
        ) STRICT;
CREATE TABLE queue_tally (waiting INTEGER NOT NULL, version INTEGER NOT NULL) STRICT;
INSERT INTO "queue_tally" VALUES(0,0);
CREATE TABLE reading (
            probe INTEGER NOT NULL REFERENCES probe(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,                   -- NULL: the same as value
            delay_ms INTEGER NOT NULL,  -- received_ms - measured_ms
            flags INTEGER NOT NULL,
            PRIMARY KEY (probe, measured_ms)
        ) STRICT, WITHOUT ROWID;
INSERT INTO "reading" VALUES(1,1790000000000,14.0,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790000600000,14.0625,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790001200000,14.125,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790001800000,14.1875,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790002400000,14.25,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790003000000,14.3125,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790003600000,14.375,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790004200000,14.4375,NULL,500,16);
INSERT INTO "reading" VALUES(1,1790004800000,14.5,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790005400000,14.5625,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790006000000,14.625,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790006600000,14.6875,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790007200000,14.75,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790007800000,14.8125,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790008400000,14.875,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790009000000,14.9375,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790009600000,15.0,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790010200000,15.0625,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790010800000,15.125,NULL,500,0);
INSERT INTO "reading" VALUES(1,1790011400000,15.1875,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790000000000,1.99999999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790000600000,2.62499999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790001200000,3.24999999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790001800000,3.87499999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790002400000,4.49999999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790003000000,5.12499999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790003600000,5.74999999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790004200000,6.37499999999999289457e-01,NULL,500,16);
INSERT INTO "reading" VALUES(2,1790004800000,6.99999999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790005400000,7.62499999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790006000000,8.24999999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790006600000,8.87499999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790007200000,9.49999999999999289457e-01,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790007800000,1.01249999999999928945e+00,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790008400000,1.07499999999999928945e+00,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790009000000,1.13749999999999928945e+00,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790009600000,1.19999999999999928945e+00,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790010200000,1.26249999999999928945e+00,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790010800000,1.32499999999999928945e+00,NULL,500,0);
INSERT INTO "reading" VALUES(2,1790011400000,1.38749999999999928945e+00,NULL,500,0);
CREATE TABLE refusal (
            number INTEGER PRIMARY KEY,
            received_ms INTEGER NOT NULL,
            source TEXT NOT NULL,
            reason TEXT NOT NULL,
            payload BLOB NOT NULL,      -- the head of it
            size INTEGER NOT NULL       -- its true length
        ) STRICT;
CREATE TABLE report (one INTEGER PRIMARY KEY CHECK (one = 1), at_ms INTEGER NOT NULL, troubles TEXT NOT NULL) STRICT;
CREATE TABLE rollup (
            probe INTEGER NOT NULL REFERENCES probe(number),
            minutes INTEGER NOT NULL,
            place INTEGER NOT NULL,
            least REAL NOT NULL,
            most REAL NOT NULL,
            total REAL NOT NULL,
            moments_ms INTEGER NOT NULL,
            count INTEGER NOT NULL,
            PRIMARY KEY (probe, minutes, place)
        ) STRICT, WITHOUT ROWID;
CREATE TABLE stale (
            probe INTEGER NOT NULL REFERENCES probe(number),
            place INTEGER NOT NULL,
            PRIMARY KEY (probe, place)
        ) STRICT, WITHOUT ROWID;
INSERT INTO "stale" VALUES(1,2983333);
INSERT INTO "stale" VALUES(1,2983334);
INSERT INTO "stale" VALUES(1,2983335);
INSERT INTO "stale" VALUES(1,2983336);
INSERT INTO "stale" VALUES(1,2983337);
INSERT INTO "stale" VALUES(1,2983338);
INSERT INTO "stale" VALUES(1,2983339);
INSERT INTO "stale" VALUES(1,2983340);
INSERT INTO "stale" VALUES(1,2983341);
INSERT INTO "stale" VALUES(1,2983342);
INSERT INTO "stale" VALUES(1,2983343);
INSERT INTO "stale" VALUES(1,2983344);
INSERT INTO "stale" VALUES(1,2983345);
INSERT INTO "stale" VALUES(1,2983346);
INSERT INTO "stale" VALUES(1,2983347);
INSERT INTO "stale" VALUES(1,2983348);
INSERT INTO "stale" VALUES(1,2983349);
INSERT INTO "stale" VALUES(1,2983350);
INSERT INTO "stale" VALUES(1,2983351);
INSERT INTO "stale" VALUES(1,2983352);
INSERT INTO "stale" VALUES(2,2983333);
INSERT INTO "stale" VALUES(2,2983334);
INSERT INTO "stale" VALUES(2,2983335);
INSERT INTO "stale" VALUES(2,2983336);
INSERT INTO "stale" VALUES(2,2983337);
INSERT INTO "stale" VALUES(2,2983338);
INSERT INTO "stale" VALUES(2,2983339);
INSERT INTO "stale" VALUES(2,2983340);
INSERT INTO "stale" VALUES(2,2983341);
INSERT INTO "stale" VALUES(2,2983342);
INSERT INTO "stale" VALUES(2,2983343);
INSERT INTO "stale" VALUES(2,2983344);
INSERT INTO "stale" VALUES(2,2983345);
INSERT INTO "stale" VALUES(2,2983346);
INSERT INTO "stale" VALUES(2,2983347);
INSERT INTO "stale" VALUES(2,2983348);
INSERT INTO "stale" VALUES(2,2983349);
INSERT INTO "stale" VALUES(2,2983350);
INSERT INTO "stale" VALUES(2,2983351);
INSERT INTO "stale" VALUES(2,2983352);
CREATE TABLE stranger (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE tally (refused INTEGER NOT NULL, last_received_ms INTEGER, numbered INTEGER NOT NULL DEFAULT 0, refused_bytes INTEGER NOT NULL DEFAULT 0, unclaimed INTEGER NOT NULL DEFAULT 0) STRICT;
INSERT INTO "tally" VALUES(0,1790011400500,0,0,0);
CREATE TABLE unclaimed (
            stranger INTEGER NOT NULL REFERENCES stranger(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            unit TEXT,
            received_ms INTEGER NOT NULL,
            source TEXT NOT NULL,
            PRIMARY KEY (stranger, measured_ms)
        ) STRICT, WITHOUT ROWID;
CREATE TABLE used_link (
            nonce TEXT PRIMARY KEY,
            notice INTEGER NOT NULL REFERENCES notice(id),
            at_ms INTEGER NOT NULL,
            answer TEXT NOT NULL
        ) STRICT, WITHOUT ROWID;
CREATE TABLE weather (
            one INTEGER PRIMARY KEY CHECK (one = 1),
            asked TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            body TEXT NOT NULL
        ) STRICT;
CREATE INDEX open_errand ON errand (not_before_ms) WHERE delivered_ms IS NULL;
CREATE TRIGGER queue_in AFTER INSERT ON queue BEGIN UPDATE queue_tally SET waiting = waiting + 1; END;
CREATE TRIGGER queue_out AFTER DELETE ON queue BEGIN UPDATE queue_tally SET waiting = waiting - 1; END;
CREATE INDEX journal_at ON journal (at_ms);
CREATE INDEX journal_before_of ON journal_before (number);
CREATE TRIGGER journal_changed BEFORE UPDATE ON journal BEGIN
            INSERT INTO journal_before (number, bed, deed, at_ms, written_ms, planting, what, amounts, note, picture, struck_ms)
            VALUES (old.number, old.bed, old.deed, old.at_ms, old.written_ms, old.planting, old.what, old.amounts, old.note,
                old.picture, old.struck_ms);
        END;
CREATE INDEX unclaimed_came ON unclaimed (received_ms);
CREATE TRIGGER unclaimed_in AFTER INSERT ON unclaimed BEGIN UPDATE tally SET unclaimed = unclaimed + 1; END;
CREATE TRIGGER unclaimed_out AFTER DELETE ON unclaimed BEGIN UPDATE tally SET unclaimed = unclaimed - 1; END;
COMMIT;
