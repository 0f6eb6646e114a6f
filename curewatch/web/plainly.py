"""Sentences of the shop as the page says them: what names a command is told without it.

The shop's sentences and errors tell people at a terminal which command comes next. On the page the
buttons stand beside them, so the sentence ends where the command begins.
"""

from __future__ import annotations

import re

_IN_A_FILE = re.compile(r",? or [a-z_]+ in its \[\[[a-z]+\]\]")  # the configuration's own key
_END = r"(?=; |\. |$)"
_TURNED = (
    (re.compile(r": curewatch follow-up close (?:(?!; |\. ).)*?\.\.\.$"), ", close the question."),
    (re.compile(r"; else '?curewatch [^']*'?"), ""),
    (re.compile(r"[:;,]? ?'curewatch [^']*' (?:shows?|enters|begins) (?:(?!; |\. |, ).)*"), ""),
    (re.compile(r"[:;,]? ?'curewatch [^']*'"), ""),
    (re.compile(rf": curewatch (?:check|finish|room) \S+ says? .*?{_END}"), ""),
    (re.compile(rf"[:,] curewatch [a-z].*?{_END}"), ""),
)


def without_commands(said: str) -> str:
    """Return a sentence without the commands it names."""
    said = _IN_A_FILE.sub("", said)
    if "curewatch " not in said:
        return said
    told = said
    for command, instead in _TURNED:
        told = command.sub(instead, told)
    told = told.strip()
    if told != said and told and told[-1] not in ".!?":
        told += "."
    return told
