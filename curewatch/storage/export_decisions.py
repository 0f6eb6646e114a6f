"""Plain rows of what people decided: plans, pots, stock, joining, holds, boards, profiles."""

from __future__ import annotations

# Every noun's columns, in order, and its query; see `export`.
DECISION_TABLES: dict[str, tuple[tuple[str, ...], str]] = {
    "room-plans": (
        (
            *("room", "id", "start_ms", "stop_ms", "temp_c", "rh_frac", "left_alone", "why"),
            *("entered_ms", "temp_at_least", "rh_at_most", "void_why", "void_ms"),
        ),
        """
        SELECT room, room_plan.id, start_ms, stop_ms, temp_c, rh_frac, left_alone,
            room_plan.why, entered_ms, temp_at_least, rh_at_most, void.why, void.at_ms
        FROM room_plan LEFT JOIN void ON what = 'room_plan' AND target = room_plan.id
        ORDER BY start_ms, room_plan.id
        """,
    ),
    "stock": (
        (
            *("finish", "lot", "part", "id", "room", "at_ms", "opened_ms", "keep_until_ms"),
            *("note", "entered_ms", "void_why", "void_ms"),
        ),
        """
        SELECT finish, lot, part, stock.id, room, stock.at_ms, opened_ms, keep_until_ms,
            note, entered_ms, why, void.at_ms
        FROM stock LEFT JOIN void ON what = 'stock' AND target = stock.id
        ORDER BY stock.at_ms, stock.id
        """,
    ),
    "batches": (
        (
            *("name", "id", "finish", "finish_revision", "lot", "mixed_at_ms", "room"),
            *("crosslinker_pct", "crosslinker_lot", "reducer_pct", "retarder_pct", "thinner"),
            *("tint", "note", "who", "entered_ms", "gone_ms", "void_why", "void_ms"),
        ),
        """
        SELECT name, batch.id, finish, revision, lot, mixed_at_ms, room,
            crosslinker_pct, crosslinker_lot, reducer_pct, retarder_pct, thinner,
            tint, note, who, batch.entered_ms, gone.at_ms, why, void.at_ms
        FROM batch LEFT JOIN batch_gone AS gone ON gone.batch = batch.id
                AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'gone' AND target = gone.id)
            LEFT JOIN void ON what = 'batch' AND target = batch.id
        ORDER BY mixed_at_ms, batch.id
        """,
    ),
    "sensor-checks": (
        (
            *("id", "sensor", "quantity", "against", "reference", "reference_error", "read"),
            *("read_error", "temp_c", "start_ms", "stop_ms", "from_ms", "who", "note"),
            *("entered_ms", "void_why", "void_ms"),
        ),
        """
        SELECT sensor_check.id, sensor, quantity, against, reference, reference_error, read,
            read_error, temp_c, start_ms, stop_ms, from_ms, who, note, entered_ms, why, at_ms
        FROM sensor_check
            LEFT JOIN sensor_check_void ON sensor_check_void.sensor_check = sensor_check.id
        ORDER BY sensor_check.id
        """,
    ),
    "sensor-jars": (
        ("id", "sensor", "salt", "start_ms", "stop_ms", "who", "entered_ms"),
        """
        SELECT id, sensor, salt, start_ms, (
            SELECT stop_ms FROM sensor_jar_end
            WHERE sensor_jar = sensor_jar.id ORDER BY sensor_jar_end.id DESC LIMIT 1
        ), who, entered_ms
        FROM sensor_jar ORDER BY id
        """,
    ),
    "joinings": (
        ("part", "onto", "id", "at_ms", "note", "entered_ms", "void_why", "void_ms"),
        """
        SELECT part.tag, onto.tag, joining.id, joining.at_ms, note, joining.entered_ms,
            why, void.at_ms
        FROM joining JOIN piece AS part ON part.number = joining.part
            JOIN piece AS onto ON onto.number = joining.onto
            LEFT JOIN void ON what = 'joining' AND target = joining.id
        ORDER BY joining.at_ms, joining.id
        """,
    ),
    "quarantines": (
        (
            *("id", "what", "target", "at_ms", "why", "who", "entered_ms"),
            *("released_ms", "release_why", "released_by"),
        ),
        """
        SELECT id, what, target, quarantine.at_ms, quarantine.why, quarantine.who, entered_ms,
            freed.at_ms, freed.why, freed.who
        FROM quarantine LEFT JOIN quarantine_release AS freed ON freed.quarantine = id
        ORDER BY quarantine.at_ms, id
        """,
    ),
    "follow-ups-closed": (
        ("tag", "days", "why", "at_ms"),
        """
        SELECT tag, days, why, closed.at_ms
        FROM follow_up_closed AS closed JOIN piece ON number = piece
        ORDER BY closed.at_ms, tag, days
        """,
    ),
    "trials": (
        ("name", "id", "question", "entered_ms"),
        "SELECT name, id, question, entered_ms FROM trial ORDER BY entered_ms, id",
    ),
    "trial-boards": (
        ("trial", "tag", "entered_ms"),
        """
        SELECT name, tag, trial_board.entered_ms
        FROM trial_board JOIN trial ON trial.id = trial JOIN piece ON number = piece
        ORDER BY trial_board.entered_ms, name, tag
        """,
    ),
    "trial-scales": (
        ("trial", "quality", "worst", "best", "words", "entered_ms"),
        """
        SELECT name, quality, worst, best, words, entered_ms
        FROM trial_scale JOIN trial ON id = trial ORDER BY entered_ms, name, quality
        """,
    ),
    "scores": (
        (
            *("tag", "id", "at_ms", "quality", "value", "unit", "angle_deg", "how", "who"),
            *("entered_ms", "void_why", "void_ms"),
        ),
        """
        SELECT tag, score.id, score.at_ms, quality, value, unit, angle_deg, how, who,
            score.entered_ms, why, void.at_ms
        FROM score JOIN piece ON number = piece
            LEFT JOIN void ON what = 'score' AND target = score.id
        ORDER BY score.at_ms, score.id
        """,
    ),
    "coat-plans": (
        ("tag", "id", "coats", "entered_ms", "void_why", "void_ms"),
        """
        SELECT tag, coat_plan.id, coats, coat_plan.entered_ms, why, void.at_ms
        FROM coat_plan JOIN piece ON number = piece
            LEFT JOIN void ON what = 'plan' AND target = coat_plan.id
        ORDER BY coat_plan.entered_ms, coat_plan.id
        """,
    ),
    "rejudgements": (
        ("tag", "finish_revision", "why", "entered_ms"),
        """
        SELECT tag, rejudgement.revision, why, rejudgement.entered_ms
        FROM rejudgement JOIN piece ON number = piece ORDER BY rejudgement.entered_ms, id
        """,
    ),
    "finish-revisions": (
        ("finish", "finish_revision", "at_ms", "text"),
        "SELECT name, revision, at_ms, text FROM finish_revision ORDER BY at_ms, name, revision",
    ),
    "sensor-places": (
        ("sensor", "room", "start_ms"),
        "SELECT sensor, room, from_ms FROM place ORDER BY from_ms, id",
    ),
}
