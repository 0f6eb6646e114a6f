-- Schema 2. What a room is said to do, mixed pots and stock, joined pieces, holds, who did it,
-- test boards. Times are UTC epoch milliseconds; what people enter is append-only.

-- What a person says a room will be like from `start_ms` on; `stop_ms` NULL: until further notice.
CREATE TABLE room_plan (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    room TEXT NOT NULL,
    start_ms INTEGER NOT NULL,
    stop_ms INTEGER CHECK (stop_ms IS NULL OR stop_ms > start_ms),
    temp_c REAL,                         -- kept, or drifted towards where the room is left alone
    rh_frac REAL,
    left_alone INTEGER NOT NULL,         -- 1: heating off, the room drifts
    why TEXT NOT NULL,
    entered_ms INTEGER NOT NULL,
    temp_at_least INTEGER NOT NULL DEFAULT 0,  -- 1: kept from falling, as a heater does
    rh_at_most INTEGER NOT NULL DEFAULT 0,     -- 1: kept from rising, as a dehumidifier does
    CHECK (temp_c IS NOT NULL OR rh_frac IS NOT NULL)
);
CREATE INDEX room_plan_room ON room_plan (room, start_ms);

-- A can or a drum: where a lot of a finish (or of what is mixed into it) stands. A later row of the
-- same lot and part is its next place; room NULL: used up or thrown away.
CREATE TABLE stock (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    finish TEXT NOT NULL,
    lot TEXT NOT NULL COLLATE NOCASE,
    part TEXT NOT NULL,                  -- 'finish', 'crosslinker', 'catalyst', 'thinner'
    room TEXT,
    at_ms INTEGER NOT NULL,
    opened_ms INTEGER,
    keep_until_ms INTEGER,
    note TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX stock_lot ON stock (lot, part, at_ms);

-- A mixed pot; `name` is what is written on it.
CREATE TABLE batch (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    finish TEXT NOT NULL,
    revision INTEGER NOT NULL,
    lot TEXT NOT NULL COLLATE NOCASE,
    mixed_at_ms INTEGER NOT NULL,
    room TEXT,                           -- where the pot stands: its life runs by that room
    crosslinker_pct REAL,
    crosslinker_lot TEXT NOT NULL,
    reducer_pct REAL,
    retarder_pct REAL,
    thinner TEXT NOT NULL,
    tint TEXT NOT NULL,
    note TEXT NOT NULL,
    who TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX batch_lot ON batch (lot);
-- Used up or thrown away.
CREATE TABLE batch_gone (
    batch INTEGER PRIMARY KEY REFERENCES batch (id),
    at_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL
);

ALTER TABLE coat ADD COLUMN batch INTEGER REFERENCES batch (id);
ALTER TABLE coat ADD COLUMN who TEXT NOT NULL DEFAULT '';
ALTER TABLE work ADD COLUMN who TEXT NOT NULL DEFAULT '';
ALTER TABLE outcome ADD COLUMN who TEXT NOT NULL DEFAULT '';

-- A part glued or screwed to another piece: both keep their own coats and clocks.
CREATE TABLE joining (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    part INTEGER NOT NULL REFERENCES piece (number),
    onto INTEGER NOT NULL REFERENCES piece (number),
    at_ms INTEGER NOT NULL,
    note TEXT NOT NULL,
    entered_ms INTEGER NOT NULL,
    CHECK (part <> onto)
);
CREATE INDEX joining_part ON joining (part);
CREATE INDEX joining_onto ON joining (onto);

-- Work stopped on everything of a lot, on one pot or on one piece, until it is released.
CREATE TABLE quarantine (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    what TEXT NOT NULL CHECK (what IN ('lot', 'batch', 'piece')),
    target TEXT NOT NULL COLLATE NOCASE,
    why TEXT NOT NULL,
    who TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE TABLE quarantine_release (
    quarantine INTEGER PRIMARY KEY REFERENCES quarantine (id),
    why TEXT NOT NULL,
    who TEXT NOT NULL,
    at_ms INTEGER NOT NULL
);

-- A question after so many days that nobody can answer any more, and why.
CREATE TABLE follow_up_closed (
    piece INTEGER NOT NULL REFERENCES piece (number),
    days INTEGER NOT NULL,
    why TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    PRIMARY KEY (piece, days)
) WITHOUT ROWID;

-- A comparison of finishes on test boards; each board is a piece with a tag of its own.
CREATE TABLE trial (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    question TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE TABLE trial_board (
    trial INTEGER NOT NULL REFERENCES trial (id),
    piece INTEGER NOT NULL REFERENCES piece (number),
    entered_ms INTEGER NOT NULL,
    PRIMARY KEY (trial, piece)
) WITHOUT ROWID;
-- The shop's own scale for one quality: from worst to best, in its words.
CREATE TABLE trial_scale (
    trial INTEGER NOT NULL REFERENCES trial (id),
    quality TEXT NOT NULL,
    worst REAL NOT NULL,
    best REAL NOT NULL CHECK (best <> worst),
    words TEXT NOT NULL,
    PRIMARY KEY (trial, quality)
) WITHOUT ROWID;
CREATE TABLE score (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL REFERENCES piece (number),
    quality TEXT NOT NULL,               -- 'haze', 'gloss', 'image', 'mar', 'hardness', 'rubs'
    value REAL NOT NULL,
    unit TEXT NOT NULL,                  -- '' on the shop's scale; 'GU', 'pencil', 'rubs' measured
    angle_deg REAL,
    how TEXT NOT NULL,
    who TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX score_piece ON score (piece, at_ms);

-- More kinds of entries can be voided.
CREATE TABLE void_2 (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    what TEXT NOT NULL CHECK (what IN (
        'coat', 'work', 'move', 'outcome', 'fill',
        'room_plan', 'stock', 'batch', 'joining', 'score'
    )),
    target INTEGER NOT NULL,
    why TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    UNIQUE (what, target)
);
INSERT INTO void_2 SELECT id, what, target, why, at_ms FROM void;
DROP TABLE void;
ALTER TABLE void_2 RENAME TO void;

-- Who is known to the page: a long-lived cookie's digest, never the cookie itself.
CREATE TABLE page_session (
    digest BLOB PRIMARY KEY,
    who TEXT NOT NULL,
    opened_ms INTEGER NOT NULL
) WITHOUT ROWID;

-- What was made of a piece's outcomes, so that their time's record is not read at every start. A
-- cache: deleting it loses nothing. A row goes by itself when the past that it rests on is changed.
CREATE TABLE judged (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL UNIQUE REFERENCES piece (number),
    fingerprint TEXT NOT NULL,           -- of the piece, its finish, its rooms and the rules
    start_ms INTEGER NOT NULL,           -- readings from here
    stop_ms INTEGER NOT NULL,            -- to here have a part in it
    said TEXT                            -- NULL while it is being worked out
);
CREATE INDEX judged_stop ON judged (stop_ms);
CREATE TRIGGER judged_reading AFTER INSERT ON reading BEGIN
    DELETE FROM judged WHERE stop_ms >= NEW.at_ms AND start_ms <= NEW.at_ms;
END;
CREATE TRIGGER judged_reading_flag AFTER UPDATE ON reading BEGIN
    DELETE FROM judged WHERE stop_ms >= NEW.at_ms AND start_ms <= NEW.at_ms;
END;
CREATE TRIGGER judged_reading_void AFTER INSERT ON reading_void BEGIN
    DELETE FROM judged WHERE stop_ms >= NEW.start_ms AND start_ms <= NEW.stop_ms;
END;
CREATE TRIGGER judged_fill AFTER INSERT ON fill BEGIN
    DELETE FROM judged WHERE stop_ms >= NEW.start_ms AND start_ms <= NEW.stop_ms;
END;
CREATE TRIGGER judged_fill_void AFTER INSERT ON void WHEN NEW.what = 'fill' BEGIN
    DELETE FROM judged;
END;
CREATE TRIGGER judged_place AFTER INSERT ON place BEGIN
    DELETE FROM judged;
END;

-- A room's climate by whole hours, worked out of its readings: a cache, so that an outlook need not
-- read months of them at every start. `hours` holds temperature [degC], vapour pressure [Pa] and
-- surface temperature [degC] as little-endian doubles, NaN where unknown.
CREATE TABLE room_hours (
    room TEXT PRIMARY KEY,
    first_hour INTEGER NOT NULL,         -- whole hours since the epoch
    touched INTEGER NOT NULL,            -- newest row of touched that they have taken in
    basis TEXT NOT NULL,                 -- what of the configuration they hang on
    hours BLOB NOT NULL
) WITHOUT ROWID;
