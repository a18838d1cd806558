BEGIN TRANSACTION;
CREATE TABLE actions (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, deed TEXT NOT NULL, at INTEGER NOT NULL,
        note TEXT NOT NULL, recorded INTEGER NOT NULL, via TEXT NOT NULL, amount REAL, standing_g REAL, advised INTEGER DEFAULT 0 NOT NULL, corrects INTEGER, withdrawn INTEGER DEFAULT 0 NOT NULL) STRICT;
INSERT INTO "actions" VALUES(1,'tent','misted',1740830400250000,'the "fine" nozzle',1740830460250000,'link',NULL,NULL,0,NULL,0);
CREATE TABLE answers (
        key TEXT NOT NULL PRIMARY KEY, fingerprint TEXT NOT NULL, status INTEGER NOT NULL,
        body TEXT NOT NULL, kept INTEGER NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO "answers" VALUES('key','fingerprint',201,'{"id": 1}',1740830400250000);
CREATE TABLE calibrations (
        id INTEGER PRIMARY KEY, sensor TEXT NOT NULL, quantity TEXT NOT NULL, slope REAL NOT NULL,
        offset REAL NOT NULL, at INTEGER NOT NULL, who TEXT NOT NULL, how TEXT NOT NULL,
        recorded INTEGER NOT NULL) STRICT;
CREATE TABLE counters (
        name TEXT NOT NULL PRIMARY KEY, value INTEGER NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO "counters" VALUES('readings counted',1);
INSERT INTO "counters" VALUES('readings counted until',1740830400000000);
INSERT INTO "counters" VALUES('rejects',1);
INSERT INTO "counters" VALUES('summed up from',1740787200);
INSERT INTO "counters" VALUES('summed up until',1740830400);
CREATE TABLE entries (
        id INTEGER PRIMARY KEY, batch INTEGER NOT NULL, kind TEXT NOT NULL, at INTEGER NOT NULL,
        recorded INTEGER NOT NULL, via TEXT NOT NULL, note TEXT NOT NULL, chamber TEXT,
        shelf TEXT, count INTEGER, other INTEGER, weight_g REAL, stage TEXT, flush INTEGER,
        sign TEXT NOT NULL, corrects INTEGER) STRICT;
INSERT INTO "entries" VALUES(1,1,'started',1740830400250000,1740830460250000,'page','first of the winter','tent','top',NULL,NULL,NULL,NULL,NULL,'',NULL);
INSERT INTO "entries" VALUES(2,1,'harvested',1740830460250000,1740830460250000,'api','',NULL,NULL,NULL,NULL,612.5,NULL,1,'',NULL);
CREATE TABLE exchanges (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, start INTEGER NOT NULL,
        "end" INTEGER NOT NULL, vented INTEGER NOT NULL, per_h REAL, low REAL, high REAL, r2 REAL,
        end_ppm REAL, inlet_ppm REAL, inlet_measured INTEGER NOT NULL, source_g_per_h REAL,
        refusal TEXT NOT NULL) STRICT;
CREATE TABLE foretold (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, sensor TEXT NOT NULL,
        quantity TEXT NOT NULL, side TEXT NOT NULL, "limit" REAL NOT NULL, at INTEGER NOT NULL,
        earliest INTEGER NOT NULL, likely INTEGER NOT NULL, latest INTEGER, told INTEGER NOT NULL,
        came INTEGER, outcome TEXT NOT NULL) STRICT;
INSERT INTO "foretold" VALUES(1,'tent','top','humidity','low',85.0,1740830400250000,1740831480250000,1740831900250000,NULL,1,1740832020250000,'came');
CREATE TABLE found (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, kind TEXT NOT NULL,
        start INTEGER NOT NULL, "end" INTEGER NOT NULL, action INTEGER, confirmed INTEGER,
        humidity_before_pct REAL, humidity_after_pct REAL, vapour_gain_g_per_m3 REAL,
        co2_before_ppm REAL, co2_after_ppm REAL, held_s REAL, amount REAL) STRICT;
CREATE TABLE held (
        sensor TEXT NOT NULL, quantity TEXT NOT NULL, since INTEGER NOT NULL, low REAL, high REAL,
        PRIMARY KEY (sensor, quantity, since)) STRICT, WITHOUT ROWID;
INSERT INTO "held" VALUES('top','humidity_pct',1740830400250000,88.3,NULL);
CREATE TABLE late (
        time INTEGER NOT NULL, series INTEGER NOT NULL REFERENCES series (id),
        value REAL NOT NULL, PRIMARY KEY (time, series)) STRICT, WITHOUT ROWID;
CREATE TABLE migrations (
            name TEXT NOT NULL PRIMARY KEY, applied INTEGER NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO "migrations" VALUES('first tables',1740830400250000);
INSERT INTO "migrations" VALUES('photos of notes',1740830400250000);
INSERT INTO "migrations" VALUES('what can be trusted',1740830400250000);
INSERT INTO "migrations" VALUES('what grows',1740830400250000);
INSERT INTO "migrations" VALUES('what readings came to',1740830400250000);
INSERT INTO "migrations" VALUES('what the air tells',1740830400250000);
INSERT INTO "migrations" VALUES('what was put right',1740830400250000);
CREATE TABLE moves (
        id INTEGER PRIMARY KEY, reminder INTEGER NOT NULL REFERENCES reminders (id),
        episode INTEGER NOT NULL, event TEXT NOT NULL, before TEXT NOT NULL,
        after TEXT NOT NULL, time INTEGER NOT NULL, cause TEXT NOT NULL, evidence_sensor TEXT, evidence_quantity TEXT, evidence_value REAL, evidence_low REAL, evidence_high REAL, evidence_trend_per_h REAL, evidence_since INTEGER) STRICT;
INSERT INTO "moves" VALUES(1,1,3,'raised','normal','unacknowledged',1740830400250000,'it''s 76 %; below 85 %','top','humidity',76.3,85.0,95.0,-4.2,1740830340250000);
CREATE TABLE outbox (
        id INTEGER PRIMARY KEY, reminder INTEGER NOT NULL, episode INTEGER NOT NULL,
        address TEXT NOT NULL, title TEXT NOT NULL, body TEXT NOT NULL, priority INTEGER NOT NULL,
        state TEXT NOT NULL, created INTEGER NOT NULL, next_try INTEGER NOT NULL,
        tries INTEGER NOT NULL, expires INTEGER, again INTEGER NOT NULL,
        error TEXT NOT NULL, kind TEXT DEFAULT 'reminder' NOT NULL, chamber TEXT DEFAULT '' NOT NULL, sent INTEGER) STRICT;
INSERT INTO "outbox" VALUES(1,1,3,'phone','Tent: mist now','Two squeezes.
Then look.',3,'waiting',1740830400250000,1740830460250000,2,1740834000250000,1,'no answer','forecast','tent',1740830400250000);
CREATE TABLE photos (
        id INTEGER PRIMARY KEY, entry INTEGER NOT NULL REFERENCES entries (id),
        digest TEXT NOT NULL, width INTEGER NOT NULL, height INTEGER NOT NULL,
        small_width INTEGER NOT NULL, small_height INTEGER NOT NULL, stored INTEGER NOT NULL,
        removed INTEGER) STRICT;
INSERT INTO "photos" VALUES(1,2,'0000000000000000000000000000000000000000000000000000000000000000',1600,1200,320,240,300000,1740830460250000);
CREATE TABLE readings (
        time INTEGER NOT NULL, series INTEGER NOT NULL REFERENCES series (id),
        value REAL NOT NULL, timed INTEGER NOT NULL, raw REAL,
        PRIMARY KEY (time, series)) STRICT, WITHOUT ROWID;
INSERT INTO "readings" VALUES(1740808800250000,1,830.0,1,NULL);
INSERT INTO "readings" VALUES(1740830400250000,2,17.5,1,NULL);
INSERT INTO "readings" VALUES(1740830400250000,3,88.1,1,NULL);
INSERT INTO "readings" VALUES(1740830460250000,2,17.625,0,NULL);
INSERT INTO "readings" VALUES(1740830460250000,3,88.225,0,NULL);
INSERT INTO "readings" VALUES(1740830520250000,2,17.75,1,NULL);
INSERT INTO "readings" VALUES(1740830520250000,3,88.35,1,NULL);
INSERT INTO "readings" VALUES(1740830580250000,2,17.875,1,NULL);
INSERT INTO "readings" VALUES(1740830580250000,3,88.475,1,NULL);
CREATE TABLE rejects (
        id INTEGER PRIMARY KEY, topic TEXT NOT NULL, time INTEGER NOT NULL,
        reason TEXT NOT NULL, excerpt TEXT NOT NULL) STRICT;
INSERT INTO "rejects" VALUES(1,'home/top',1740830400250000,'not a number','{"t": "warm"}');
CREATE TABLE reminders (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, call TEXT NOT NULL, subject TEXT NOT NULL,
        state TEXT NOT NULL, active INTEGER NOT NULL, priority INTEGER NOT NULL,
        episode INTEGER NOT NULL, since INTEGER, moved INTEGER, told INTEGER,
        shelved_until INTEGER, evidence_sensor TEXT, evidence_quantity TEXT, evidence_value REAL,
        evidence_low REAL, evidence_high REAL, evidence_trend_per_h REAL, evidence_since INTEGER, repeats INTEGER DEFAULT 0 NOT NULL, out_until INTEGER, out_by TEXT DEFAULT '' NOT NULL, out_why TEXT DEFAULT '' NOT NULL,
        UNIQUE (chamber, call, subject)) STRICT;
INSERT INTO "reminders" VALUES(1,'tent','mist','','unacknowledged',1,3,3,1740830400250000,1740830460250000,1740830520250000,NULL,'top','humidity',76.3,85.0,95.0,-4.2,1740830340250000,2,NULL,'','');
CREATE TABLE series (
        id INTEGER PRIMARY KEY, sensor TEXT NOT NULL, quantity TEXT NOT NULL,
        newest_before INTEGER NOT NULL, UNIQUE (sensor, quantity)) STRICT;
INSERT INTO "series" VALUES(1,'low','co2',1740812400000000);
INSERT INTO "series" VALUES(2,'top','temperature',1740834000000000);
INSERT INTO "series" VALUES(3,'top','humidity',1740834000000000);
CREATE TABLE starts (
        entry INTEGER PRIMARY KEY REFERENCES entries (id), species TEXT NOT NULL,
        container TEXT NOT NULL, count INTEGER NOT NULL, substrate TEXT NOT NULL,
        strain TEXT NOT NULL, spawn TEXT NOT NULL, wet_g REAL, dry_g REAL, moisture_pct REAL,
        parent INTEGER, split_from INTEGER) STRICT;
INSERT INTO "starts" VALUES(1,'grey-oyster','sealed bag',4,'wheat “straw”','own','grain',5200.0,1800.0,65.0,NULL,NULL);
CREATE TABLE summaries (
        length_s INTEGER NOT NULL, start_s INTEGER NOT NULL, quantity INTEGER NOT NULL,
        sensor INTEGER NOT NULL, number INTEGER NOT NULL, least REAL NOT NULL,
        total REAL NOT NULL, most REAL NOT NULL, within INTEGER NOT NULL,
        below INTEGER NOT NULL, above INTEGER NOT NULL,
        PRIMARY KEY (length_s, start_s, quantity, sensor)) STRICT, WITHOUT ROWID;
INSERT INTO "summaries" VALUES(60,1740808800,3,1,1,830.0,830.0,830.0,0,0,0);
INSERT INTO "summaries" VALUES(900,1740808800,3,1,1,830.0,830.0,830.0,0,0,0);
INSERT INTO "summaries" VALUES(3600,1740808800,3,1,1,830.0,830.0,830.0,0,0,0);
CREATE TABLE summed_sensors (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
INSERT INTO "summed_sensors" VALUES(1,'low');
CREATE TABLE texts (
        name TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO "texts" VALUES('air pressure of the summaries','101325.0');
INSERT INTO "texts" VALUES('link key','not a real key');
CREATE TABLE tokens (
        id INTEGER PRIMARY KEY, name TEXT NOT NULL, digest TEXT NOT NULL UNIQUE,
        made INTEGER NOT NULL, used INTEGER, revoked INTEGER) STRICT;
CREATE TABLE undated (
        id INTEGER PRIMARY KEY, boot TEXT, sensor TEXT NOT NULL, quantity TEXT NOT NULL,
        value REAL NOT NULL, arrived_s REAL NOT NULL) STRICT;
INSERT INTO "undated" VALUES(1,'boot-7','low','co2',900.0,12.5);
INSERT INTO "undated" VALUES(2,NULL,'low','co2',910.0,13.5);
CREATE TABLE unsummed (
        start_s INTEGER PRIMARY KEY, touched INTEGER NOT NULL,
        counting INTEGER NOT NULL) STRICT;
INSERT INTO "unsummed" VALUES(1740807900,1,0);
INSERT INTO "unsummed" VALUES(1740808800,1,0);
CREATE TABLE used_links (
        digest TEXT NOT NULL PRIMARY KEY, used INTEGER NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO "used_links" VALUES('digest',1740830400250000);
CREATE TABLE watched (
        sensor TEXT NOT NULL, quantity TEXT NOT NULL, side TEXT NOT NULL, level TEXT NOT NULL,
        active INTEGER NOT NULL, turning_since INTEGER,
        PRIMARY KEY (sensor, quantity, side, level)) STRICT, WITHOUT ROWID;
INSERT INTO "watched" VALUES('top','humidity','low','band',1,1740830400250000);
CREATE INDEX moves_of_reminder ON moves (reminder);
CREATE INDEX outbox_by_state ON outbox (state, next_try);
CREATE INDEX actions_by_time ON actions (at);
CREATE INDEX calibrations_of_sensor ON calibrations (sensor, quantity, at);
CREATE INDEX found_in_chamber ON found (chamber, start);
CREATE INDEX exchanges_in_chamber ON exchanges (chamber, start);
CREATE INDEX entries_of_batch ON entries (batch);
CREATE INDEX moves_by_time ON moves (time);
CREATE INDEX outbox_by_time ON outbox (created);
CREATE INDEX foretold_in_chamber ON foretold (chamber, at);
CREATE INDEX photos_of_entry ON photos (entry);
CREATE UNIQUE INDEX actions_by_corrected ON actions (corrects);
CREATE INDEX found_by_time ON found (start);
COMMIT;
