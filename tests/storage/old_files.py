"""Rows for every table of every schema, written as plain SQL: the code of that time is gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.storage import Database

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.storage.migrations import Step

ROWS = {
    1: """
INSERT INTO sensor (number, id) VALUES (1, 's1'), (2, 's2');
INSERT INTO reading (at_ms, sensor, quantity, value, origin, flags)
    VALUES (1000, 1, 1, 20.5, 1, 0), (2000, 1, 2, 0.5, 2, 3), (3000, 2, 1, 21.0, 1, 0);
INSERT INTO reading_void (id, sensor, quantity, start_ms, stop_ms, why, at_ms)
    VALUES (1, 1, NULL, 4000, 5000, 'hand on it', 6000);
INSERT INTO reading_voided (at_ms, sensor, quantity, reading_void, value, origin, flags)
    VALUES (4500, 1, 1, 1, 33.0, 1, 0);
INSERT INTO last_heard (sensor, quantity, heard, at_ms, value, origin, flags)
    VALUES (1, 1, 2, 1000, 20.5, 1, 0), (2, 1, 1, 3000, 21.0, 1, 0);
INSERT INTO thinning (id, start_ms, stop_ms, rows_before, rows_after, at_ms)
    VALUES (1, 0, 900, 10, 2, 7000);
INSERT INTO rejection (sensor, quantity, reason, count, first_ms, last_ms, detail)
    VALUES ('s1', 1, 'duplicate', 4, 1000, 2000, 'came again');
INSERT INTO touched (id, sensor, room, from_ms) VALUES (1, 's1', NULL, 4000), (2, NULL, 'booth', 1);
INSERT INTO place (id, sensor, room, from_ms) VALUES (1, 's1', 'booth', 1), (2, 's2', 'store', 1);
INSERT INTO finish_revision (name, revision, text, at_ms)
    VALUES ('waterborne', 1, 'family = "x"', 1), ('waterborne', 2, 'family = "y"', 2);
INSERT INTO piece (number, tag, finish, revision, title, at_ms, entered_ms)
    VALUES (1, 'D-1', 'waterborne', 1, 'door', 1, 2), (2, 'D-2', 'waterborne', 2, '', 3, 4);
INSERT INTO coat (id, piece, at_ms, wet_um, passes, mixed_at_ms, note, entered_ms)
    VALUES (1, 1, 5, 100.0, 2, 4, 'thin', 6), (2, 1, 7, NULL, 1, NULL, '', 8),
        (3, 2, 9, 80.0, 1, NULL, '', 10);
INSERT INTO work (id, piece, kind, at_ms, note, anyway, entered_ms)
    VALUES (1, 1, 'scuff', 11, 'by hand', 'customer waits', 12);
INSERT INTO move (id, piece, room, at_ms, entered_ms)
    VALUES (1, 1, 'booth', 1, 2), (2, 2, 'booth', 3, 4), (3, 2, NULL, 20, 21);
INSERT INTO outcome (id, piece, at_ms, finding, note, entered_ms)
    VALUES (1, 1, 13, 'fine', 'edge too', 14);
INSERT INTO rejudgement (id, piece, revision, why, entered_ms) VALUES (1, 1, 2, 'new sheet', 15);
INSERT INTO coat_plan (id, piece, coats, entered_ms) VALUES (1, 1, 3, 16);
INSERT INTO fill (id, room, start_ms, stop_ms, temp_c, rh_frac, why, entered_ms)
    VALUES (1, 'booth', 100, 200, 20.0, 0.5, 'heater log', 17);
INSERT INTO void (id, what, target, why, at_ms)
    VALUES (1, 'coat', 2, 'other piece', 18), (2, 'fill', 1, 'wrong day', 19),
        (3, 'move', 3, 'still here', 22);
INSERT INTO alert (id, kind, subject, urgency, phase, since_ms, reason, next_action, raised_ms,
        seen_ms, seen_by, rest_until_ms, cleared_ms)
    VALUES (1, 'gap', 'room:booth', 'note', 'raised', 30, 'silent', 'look', 31, NULL, '', NULL,
        NULL);
INSERT INTO alert_event (id, alert, phase, at_ms, reason) VALUES (1, 1, 'raised', 31, 'silent');
INSERT INTO notice (id, alert, event, title, body, at_ms, tries, next_try_ms, sent_ms, error)
    VALUES (1, 1, 'raised', 'Booth is silent', 'look', 31, 2, 40, NULL, 'no net');
INSERT INTO meta (name, value) VALUES ('cursor', 9007199254740993), ('site', 'north');
""",
    2: """
INSERT INTO room_plan (room, start_ms, stop_ms, temp_c, rh_frac, left_alone, why, entered_ms)
    VALUES ('booth', 50, NULL, 18.0, NULL, 1, 'heater off', 51);
INSERT INTO stock (finish, lot, part, room, at_ms, opened_ms, keep_until_ms, note, entered_ms)
    VALUES ('waterborne', 'L7', 'finish', 'store', 52, 53, 99, '', 54);
INSERT INTO batch (id, name, finish, revision, lot, mixed_at_ms, room, crosslinker_pct,
        crosslinker_lot, reducer_pct, retarder_pct, thinner, tint, note, who, entered_ms)
    VALUES (1, 'P1', 'waterborne', 2, 'L7', 55, 'booth', 2.0, 'X1', 5.0, NULL, '', '', '', 'ann',
        56);
INSERT INTO batch_gone (batch, at_ms, entered_ms) VALUES (1, 58, 59);
INSERT INTO coat (piece, at_ms, wet_um, passes, mixed_at_ms, note, entered_ms, batch, who)
    VALUES (1, 57, 90.0, 1, NULL, '', 58, 1, 'ann');
INSERT INTO joining (part, onto, at_ms, note, entered_ms) VALUES (1, 2, 59, 'neck', 60);
INSERT INTO quarantine (id, what, target, why, who, at_ms, entered_ms)
    VALUES (1, 'lot', 'L7', 'froze', 'ann', 61, 62);
INSERT INTO quarantine_release (quarantine, why, who, at_ms) VALUES (1, 'tested', 'ann', 63);
INSERT INTO follow_up_closed (piece, days, why, at_ms) VALUES (1, 30, 'sold', 64);
INSERT INTO trial (id, name, question, entered_ms) VALUES (1, 'T1', 'which hazes', 65);
INSERT INTO trial_board (trial, piece, entered_ms) VALUES (1, 1, 66);
INSERT INTO trial_scale (trial, quality, worst, best, words)
    VALUES (1, 'haze', 0, 5, 'milky, clear');
INSERT INTO score (piece, quality, value, unit, angle_deg, how, who, at_ms, entered_ms)
    VALUES (1, 'gloss', 82.0, 'GU', 60.0, 'meter', 'ann', 67, 68);
INSERT INTO void (what, target, why, at_ms) VALUES ('room_plan', 1, 'stayed on', 69);
INSERT INTO page_session (digest, who, opened_ms) VALUES (x'00ff', 'ann', 70);
INSERT INTO judged (piece, fingerprint, start_ms, stop_ms, said) VALUES (1, 'ab', 10, 60, '[]');
INSERT INTO room_hours (room, first_hour, touched, basis, hours)
    VALUES ('loft', 71, 1, 'gaps', x'0000000000000000');
""",
    3: """
INSERT INTO state (id, at_ms, kind, name, facts)
    VALUES (1, 72, 'room', 'loft', '{"fresh":true}'), (2, 73, 'piece', 'D-1', '{"coats":2}');
""",
    4: """
INSERT INTO batch_gone (batch, at_ms, entered_ms) VALUES (1, 74, 75);
INSERT INTO void (what, target, why, at_ms) VALUES ('plan', 1, 'two', 76),
    ('gone', 1, 'not yet', 77);
""",
    5: """
INSERT INTO sensor_check (id, sensor, quantity, against, reference, reference_error, read,
        read_error, temp_c, start_ms, stop_ms, from_ms, who, note, entered_ms)
    VALUES (1, 's1', 2, 'table', 0.755, 0.008, 0.74, 0.001, 20.0, 78, 79, 79, 'ann', '', 80);
INSERT INTO sensor_check_void (sensor_check, why, at_ms) VALUES (1, 'jar leaked', 81);
INSERT INTO sensor_jar (id, sensor, salt, start_ms, who, entered_ms)
    VALUES (1, 's1', 'table', 70, 'ann', 71);
INSERT INTO sensor_jar_end (sensor_jar, stop_ms, entered_ms) VALUES (1, 82, 83);
INSERT INTO judged (piece, fingerprint, start_ms, stop_ms, said) VALUES (1, 'cd', 10, 60, '[]');
""",
}


def fill(path: Path, through: tuple[Step, ...], *, rows_to: int) -> None:
    """Make a file of the schema after `through`, with rows in every table up to that number."""
    with Database.open(path, steps=through) as db:
        for number, rows in sorted(ROWS.items()):
            if number <= rows_to:
                db.execute(rows)
