"""The trade: finishes, pieces, coats, climate, clocks, milestones, alerts.

Everything here is pure: facts and 'now' come in as arguments, an assessment goes out. Nothing
reads a clock, a file, a socket or a setting.
"""
