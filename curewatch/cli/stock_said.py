"""How it is said that nobody knows what air a lot stood in."""

from __future__ import annotations

from curewatch.cli.show import say
from curewatch.shop.words import span

LEAST_UNSEEN_H = 1.0  # shorter, a can follows no air (our own figure)


def say_unseen(name: str, hours: float) -> None:
    """Print for how long nobody knows what air a lot stood in, where that is worth a word."""
    if hours >= LEAST_UNSEEN_H:
        say(
            f"{name}: for {span(hours)} no reading tells what it stood in; whether it froze or got "
            "hot then is not known."
        )
