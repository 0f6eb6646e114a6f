"""The demo: an invented shop over a fortnight, through a real broker and the real daemon."""
