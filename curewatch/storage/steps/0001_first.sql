-- Schema 1. Times are UTC epoch milliseconds. What people enter is append-only: a correction is a
-- row in void that says why, and the voided row stays.

CREATE TABLE sensor (
    number INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE
);

-- Time first: rows of one commit lie side by side, which spares an SD card.
CREATE TABLE reading (
    at_ms INTEGER NOT NULL CHECK (at_ms BETWEEN 0 AND 8000000000000),
    sensor INTEGER NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity BETWEEN 1 AND 15),
    value REAL NOT NULL CHECK (value BETWEEN -1e6 AND 1e6),
    origin INTEGER NOT NULL,
    flags INTEGER NOT NULL,
    PRIMARY KEY (at_ms, sensor, quantity)
) WITHOUT ROWID;

-- One row says why a span of readings was voided; the readings themselves move below it.
CREATE TABLE reading_void (
    id INTEGER PRIMARY KEY,
    sensor INTEGER NOT NULL REFERENCES sensor (number),
    quantity INTEGER,                    -- NULL: every quantity
    start_ms INTEGER NOT NULL,
    stop_ms INTEGER NOT NULL,
    why TEXT NOT NULL,
    at_ms INTEGER NOT NULL
);

CREATE TABLE reading_voided (
    at_ms INTEGER NOT NULL,
    sensor INTEGER NOT NULL,
    quantity INTEGER NOT NULL,
    reading_void INTEGER NOT NULL REFERENCES reading_void (id),
    value REAL NOT NULL,
    origin INTEGER NOT NULL,
    flags INTEGER NOT NULL,
    PRIMARY KEY (at_ms, sensor, quantity, reading_void)
) WITHOUT ROWID;

-- The newest reading of each sensor and quantity, and how many were ever taken in.
CREATE TABLE last_heard (
    sensor INTEGER NOT NULL REFERENCES sensor (number),
    quantity INTEGER NOT NULL,
    heard INTEGER NOT NULL,
    at_ms INTEGER,                       -- NULL: nothing yet with a time that is known
    value REAL,
    origin INTEGER,
    flags INTEGER,
    PRIMARY KEY (sensor, quantity)
) WITHOUT ROWID;

CREATE TABLE thinning (
    id INTEGER PRIMARY KEY,
    start_ms INTEGER NOT NULL,
    stop_ms INTEGER NOT NULL,
    rows_before INTEGER NOT NULL,
    rows_after INTEGER NOT NULL,
    at_ms INTEGER NOT NULL
);

CREATE TABLE rejection (
    sensor TEXT NOT NULL,
    quantity INTEGER NOT NULL,           -- 0: it did not get that far
    reason TEXT NOT NULL,
    count INTEGER NOT NULL,
    first_ms INTEGER NOT NULL,
    last_ms INTEGER NOT NULL,
    detail TEXT NOT NULL,
    PRIMARY KEY (sensor, quantity, reason)
) WITHOUT ROWID;

-- Where the past was changed by another process than the daemon's: it rebuilds from there.
CREATE TABLE touched (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    sensor TEXT,
    room TEXT,
    from_ms INTEGER NOT NULL,
    CHECK ((sensor IS NULL) <> (room IS NULL))
);

CREATE TABLE place (
    id INTEGER PRIMARY KEY,
    sensor TEXT NOT NULL,
    room TEXT NOT NULL,
    from_ms INTEGER NOT NULL
);

CREATE TABLE finish_revision (
    name TEXT NOT NULL,
    revision INTEGER NOT NULL,
    text TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    PRIMARY KEY (name, revision)
) WITHOUT ROWID;

CREATE TABLE piece (
    number INTEGER PRIMARY KEY,
    tag TEXT NOT NULL UNIQUE COLLATE NOCASE,
    finish TEXT NOT NULL,
    revision INTEGER NOT NULL,
    title TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL
);

CREATE TABLE coat (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL REFERENCES piece (number),
    at_ms INTEGER NOT NULL,
    wet_um REAL,
    passes INTEGER NOT NULL,
    mixed_at_ms INTEGER,
    note TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX coat_piece ON coat (piece, at_ms);

CREATE TABLE work (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL REFERENCES piece (number),
    kind TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    note TEXT NOT NULL,
    anyway TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX work_piece ON work (piece, at_ms);

-- A move into a room, or out of the shop (room NULL). Stays are derived from the ordered moves.
CREATE TABLE move (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL REFERENCES piece (number),
    room TEXT,
    at_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX move_piece ON move (piece, at_ms);

CREATE TABLE outcome (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL REFERENCES piece (number),
    at_ms INTEGER NOT NULL,
    finding TEXT NOT NULL,
    note TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX outcome_piece ON outcome (piece, at_ms);

CREATE TABLE rejudgement (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL REFERENCES piece (number),
    revision INTEGER NOT NULL,
    why TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE INDEX rejudgement_piece ON rejudgement (piece);

-- How many coats a piece is to get; the newest row holds.
CREATE TABLE coat_plan (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece INTEGER NOT NULL REFERENCES piece (number),
    coats INTEGER NOT NULL CHECK (coats >= 1),
    entered_ms INTEGER NOT NULL
);
CREATE INDEX coat_plan_piece ON coat_plan (piece);

CREATE TABLE fill (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    room TEXT NOT NULL,
    start_ms INTEGER NOT NULL,
    stop_ms INTEGER NOT NULL,
    temp_c REAL NOT NULL,
    rh_frac REAL NOT NULL,
    why TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);

CREATE TABLE void (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    what TEXT NOT NULL CHECK (what IN ('coat', 'work', 'move', 'outcome', 'fill')),
    target INTEGER NOT NULL,
    why TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    UNIQUE (what, target)
);

CREATE TABLE alert (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    urgency TEXT NOT NULL,
    phase TEXT NOT NULL,
    since_ms INTEGER NOT NULL,
    reason TEXT NOT NULL,
    next_action TEXT NOT NULL,
    raised_ms INTEGER,
    seen_ms INTEGER,
    seen_by TEXT NOT NULL,
    rest_until_ms INTEGER,
    cleared_ms INTEGER
);
CREATE UNIQUE INDEX alert_active ON alert (kind, subject) WHERE phase <> 'cleared';

CREATE TABLE alert_event (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    alert INTEGER NOT NULL REFERENCES alert (id),
    phase TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    reason TEXT NOT NULL
);
CREATE INDEX alert_event_alert ON alert_event (alert);
CREATE INDEX alert_event_time ON alert_event (at_ms);

CREATE TABLE notice (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    alert INTEGER NOT NULL,
    event TEXT NOT NULL,
    title TEXT NOT NULL,
    body TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    tries INTEGER NOT NULL DEFAULT 0,
    next_try_ms INTEGER,                 -- NULL once sent, or given up
    sent_ms INTEGER,
    error TEXT NOT NULL DEFAULT '',
    UNIQUE (alert, event)
);
CREATE INDEX notice_due ON notice (next_try_ms) WHERE next_try_ms IS NOT NULL;

CREATE TABLE meta (
    name TEXT PRIMARY KEY,
    value ANY NOT NULL
) STRICT, WITHOUT ROWID;
