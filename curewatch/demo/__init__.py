"""The demo: an invented shop over a fortnight, through a real broker and the real daemon.

`climate` computes the air of two rooms, `scenario` says what hangs there and what people do,
`broker` and `daemon_process` are the machinery, `play` runs it, and `summary` reads from the
daemon's database what was said and what the calendar would have said instead.
"""
