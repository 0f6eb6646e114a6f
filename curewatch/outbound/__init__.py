"""What goes out: notices to people, and the waiting that goes with them.

`wording` makes the text of a notice from an alert, `quiet` says until when the shop sleeps,
`backoff` how long to wait after a failure, and `notify` delivers in a thread of its own. Nothing
here decides that something must be said, nor stores that it was.
"""
