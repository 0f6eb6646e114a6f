-- How rooms and pieces stood, for a mirror to be sent from: bounded, and not the truth, which can be
-- worked out again from readings and what people entered. Numbers never come again, so that a mark
-- says what was sent; rows are taken away from the old end only.
CREATE TABLE state (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    at_ms INTEGER NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('room', 'piece')),
    name TEXT NOT NULL,                  -- of the room, or the piece's tag
    facts TEXT NOT NULL                  -- a JSON object, as docs/influx.md names its fields
);
