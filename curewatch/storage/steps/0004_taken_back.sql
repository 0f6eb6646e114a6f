-- Schema 4. More of what people enter can be taken back: how many coats were planned, that a pot is
-- gone, and the hanging of a piece. Times are UTC epoch milliseconds; append-only.
CREATE TABLE void_4 (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    what TEXT NOT NULL CHECK (what IN (
        'coat', 'work', 'move', 'outcome', 'fill',
        'room_plan', 'stock', 'batch', 'joining', 'score',
        'plan', 'gone', 'piece'
    )),
    target INTEGER NOT NULL,             -- of a piece its number; else the entry's id
    why TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    UNIQUE (what, target)
);
INSERT INTO void_4 SELECT id, what, target, why, at_ms FROM void;
DROP TABLE void;
ALTER TABLE void_4 RENAME TO void;
CREATE TRIGGER judged_fill_void AFTER INSERT ON void WHEN NEW.what = 'fill' BEGIN
    DELETE FROM judged;
END;

-- Used up or thrown away; said again after it was taken back, a pot has a further row.
CREATE TABLE batch_gone_4 (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    batch INTEGER NOT NULL REFERENCES batch (id),
    at_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL
);
INSERT INTO batch_gone_4 (batch, at_ms, entered_ms) SELECT batch, at_ms, entered_ms FROM batch_gone;
DROP TABLE batch_gone;
ALTER TABLE batch_gone_4 RENAME TO batch_gone;
CREATE INDEX batch_gone_batch ON batch_gone (batch);
