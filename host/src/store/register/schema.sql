-- Version 1. Never edited once released: what changes later is a migration of its own.

CREATE TABLE tractor (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    make TEXT, model TEXT, serial TEXT, note TEXT,
    binned_utc TEXT
) STRICT;

CREATE TABLE tyres (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    size TEXT,
    inflation REAL,         -- kPa
    ballast REAL,           -- kg
    wear REAL,              -- percent
    circumference REAL,     -- m
    impulses_per_turn REAL,
    note TEXT,
    binned_utc TEXT
) STRICT;

CREATE TABLE tape (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    length REAL,            -- m
    material TEXT, class TEXT, serial TEXT,
    certificate TEXT, certified_on TEXT,
    certified_length REAL,  -- m
    standard_uncertainty REAL, -- m
    note TEXT,
    binned_utc TEXT
) STRICT;

CREATE TABLE person (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    company TEXT, address TEXT, contact TEXT, note TEXT,
    binned_utc TEXT
) STRICT;

CREATE TABLE rig (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 80),
    tractor INTEGER REFERENCES tractor (id),
    tyres INTEGER REFERENCES tyres (id),
    tape INTEGER REFERENCES tape (id),
    operator INTEGER REFERENCES person (id),
    customer INTEGER REFERENCES person (id),
    source TEXT CHECK (source IN ('wheel', 'radar', 'satellite')),
    receiver TEXT,
    antenna_right REAL,     -- m
    antenna_ahead REAL,     -- m
    antenna_uncertainty REAL, -- m
    antenna_height REAL,    -- m
    axle_to_hitch REAL,     -- m
    board TEXT,
    pto_impulses REAL,
    note TEXT,
    binned_utc TEXT
) STRICT;

CREATE UNIQUE INDEX tractor_name ON tractor (name) WHERE binned_utc IS NULL;
CREATE UNIQUE INDEX tyres_name ON tyres (name) WHERE binned_utc IS NULL;
CREATE UNIQUE INDEX tape_name ON tape (name) WHERE binned_utc IS NULL;
CREATE UNIQUE INDEX person_name ON person (name) WHERE binned_utc IS NULL;
CREATE UNIQUE INDEX rig_name ON rig (name) WHERE binned_utc IS NULL;

-- The rig in use. One row at most, by its key; it cannot go while it is in use, by the reference
-- and the triggers.
CREATE TABLE active_rig (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    rig INTEGER NOT NULL REFERENCES rig (id)
) STRICT;

CREATE TRIGGER first_rig_is_active AFTER INSERT ON rig
WHEN NEW.binned_utc IS NULL AND NOT EXISTS (SELECT 1 FROM active_rig)
BEGIN INSERT INTO active_rig VALUES (1, NEW.id); END;

CREATE TRIGGER active_rig_stays BEFORE UPDATE OF binned_utc ON rig
WHEN NEW.binned_utc IS NOT NULL AND EXISTS (SELECT 1 FROM active_rig WHERE rig = NEW.id)
    AND EXISTS (SELECT 1 FROM rig WHERE binned_utc IS NULL AND id <> NEW.id)
BEGIN SELECT RAISE(ABORT, 'the active rig cannot go to the bin'); END;

CREATE TRIGGER last_rig_may_go AFTER UPDATE OF binned_utc ON rig
WHEN NEW.binned_utc IS NOT NULL
BEGIN DELETE FROM active_rig WHERE rig = NEW.id; END;

CREATE TRIGGER only_rig_is_active AFTER UPDATE OF binned_utc ON rig
WHEN NEW.binned_utc IS NULL AND NOT EXISTS (SELECT 1 FROM active_rig)
BEGIN INSERT INTO active_rig VALUES (1, NEW.id); END;

CREATE TRIGGER active_rig_is_there BEFORE UPDATE ON active_rig
WHEN EXISTS (SELECT 1 FROM rig WHERE id = NEW.rig AND binned_utc IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'a rig in the bin cannot be active'); END;

CREATE TRIGGER some_rig_is_active BEFORE DELETE ON active_rig
WHEN EXISTS (SELECT 1 FROM rig WHERE binned_utc IS NULL)
BEGIN SELECT RAISE(ABORT, 'one rig is always active'); END;

-- Signed-off records. The text is the record; the other columns are drawn from it for lists.
CREATE TABLE record (
    number INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    issued_utc TEXT NOT NULL,
    rig INTEGER REFERENCES rig (id),
    rig_name TEXT NOT NULL COLLATE NOCASE,
    channel TEXT,                       -- of its course, as all up to the uncertainty
    to_enter INTEGER,
    value REAL,                         -- impulses per 100 m
    expanded_uncertainty REAL,          -- impulses per 100 m
    state TEXT NOT NULL,
    practice INTEGER NOT NULL CHECK (practice IN (0, 1)),
    amends TEXT REFERENCES record (id),
    capture_sha256 TEXT,                -- of its course
    capture_bytes INTEGER,
    parts TEXT NOT NULL,                -- a line each: word, SHA-256 and bytes of its capture
    words TEXT NOT NULL,                -- lower case, what a search looks in
    crc INTEGER NOT NULL,               -- CRC-32C of the other columns, then of the text
    json TEXT NOT NULL
) STRICT;

CREATE INDEX record_rig ON record (rig_name, issued_utc);
CREATE INDEX record_issued ON record (issued_utc);
CREATE UNIQUE INDEX record_amends ON record (amends) WHERE amends IS NOT NULL;

CREATE TRIGGER records_stay BEFORE DELETE ON record
BEGIN SELECT RAISE(ABORT, 'a record is never removed'); END;
CREATE TRIGGER records_never_change BEFORE UPDATE ON record
BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;

-- What was done to the things above, for undo.
CREATE TABLE change (
    id INTEGER PRIMARY KEY,
    at_utc TEXT NOT NULL,
    batch INTEGER NOT NULL,
    thing TEXT NOT NULL,
    thing_id INTEGER NOT NULL,
    action TEXT NOT NULL CHECK (action IN ('add', 'edit', 'remove', 'return', 'use')),
    before TEXT,
    undone INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1))
) STRICT;
