-- Schema 5. Sensors held against something known. Times are UTC epoch milliseconds; append-only. A
-- reading stays as it was said; what a check makes of it is worked out anew each time.
CREATE TABLE sensor_check (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    sensor TEXT NOT NULL,
    quantity INTEGER NOT NULL,
    against TEXT NOT NULL,               -- a salt, 'thermometer', or 'new': another one hangs there
    reference REAL NOT NULL,             -- in the quantity's unit, as in reading
    reference_error REAL NOT NULL,
    read REAL NOT NULL,
    read_error REAL NOT NULL,
    temp_c REAL,
    start_ms INTEGER NOT NULL,
    stop_ms INTEGER NOT NULL,
    from_ms INTEGER NOT NULL,            -- its correction holds from here on
    who TEXT NOT NULL,
    note TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE TABLE sensor_check_void (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    sensor_check INTEGER NOT NULL UNIQUE REFERENCES sensor_check (id),
    why TEXT NOT NULL,
    at_ms INTEGER NOT NULL
);

-- While a sensor is in a jar its readings are of no room. Of several ends the last one said holds.
CREATE TABLE sensor_jar (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    sensor TEXT NOT NULL,
    salt TEXT NOT NULL,
    start_ms INTEGER NOT NULL,
    who TEXT NOT NULL,
    entered_ms INTEGER NOT NULL
);
CREATE TABLE sensor_jar_end (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    sensor_jar INTEGER NOT NULL REFERENCES sensor_jar (id),
    stop_ms INTEGER NOT NULL,
    entered_ms INTEGER NOT NULL
);

CREATE TRIGGER judged_sensor_check AFTER INSERT ON sensor_check BEGIN
    DELETE FROM judged;
END;
CREATE TRIGGER judged_sensor_check_void AFTER INSERT ON sensor_check_void BEGIN
    DELETE FROM judged;
END;
CREATE TRIGGER judged_sensor_jar AFTER INSERT ON sensor_jar BEGIN
    DELETE FROM judged;
END;
CREATE TRIGGER judged_sensor_jar_end AFTER INSERT ON sensor_jar_end BEGIN
    DELETE FROM judged;
END;
