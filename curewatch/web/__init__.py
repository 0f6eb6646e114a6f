"""The page at the bench: what a phone in the shop shows, and the two taps that log something.

Served by the daemon from threads of its own. It computes no truth: it asks the daemon's one
thread over the desk and renders what the assessment says. What may be imported and how it is
tested stands in DEVELOPERS.md.
"""
