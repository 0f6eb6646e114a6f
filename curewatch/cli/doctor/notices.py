"""Notices: whom they go to, what lies undelivered, and a test that really goes out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import Finding, State, faults
from curewatch.errors import BadConfig
from curewatch.outbound.notify import Messenger

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.cli.doctor.finding import Open
    from curewatch.settings import Settings

AREA = "notices"
TEST_TITLE = "curewatch: a test"
TEST_BODY = "If you can read this, notices from the shop reach you. Nothing else is the matter."


def undelivered(opened: Open) -> Iterator[Finding]:
    """Say what could not be delivered."""
    pending = opened.store.notices.pending()
    if pending.failing or pending.given_up:
        said = next((n.error for n in opened.store.notices.recent() if n.error), "")
        yield Finding(
            AREA,
            State.LOOK,
            f"{pending.failing} tried in vain, {pending.given_up} given up: {said}",
            "see whether the target is up: curewatch doctor --send-test",
        )


def targets(settings: Settings, *, send_test: bool) -> Iterator[Finding]:
    """Say where notices go; with `send_test` send one to each, and say of each what became."""
    try:
        urls = settings.notify_urls()
        messenger = Messenger(urls)
    except BadConfig as error:
        yield from faults(AREA, error)
        return
    if not urls:
        yield Finding(
            AREA, State.LOOK, "nobody is told: no address is configured", "set notify.urls_file"
        )
        return
    if not send_test:
        named = ", ".join(messenger.targets)
        yield Finding(AREA, State.OK, f"notices go to {named}", "to try it: --send-test")
        return
    for delivery in messenger.send(TEST_TITLE, TEST_BODY):
        if delivery.delivered:
            yield Finding(AREA, State.OK, f"{delivery.target} took a test notice")
        else:
            what = f"{delivery.target} took none: {delivery.why}"
            yield Finding(AREA, State.FAULT, what, "correct its address, or see that it is up")
