"""How long to wait after a failure: twice as long each time, up to a ceiling, with jitter.

There is no last try: what could not be delivered is kept and tried at the ceiling's pace until it
is, so that a target which comes back after a week still hears what it missed.
"""

from __future__ import annotations

import random  # noqa: TID251 - jitter is this module's job; nothing secret hangs on it
from dataclasses import dataclass, field

FIRST_S = 5.0
LONGEST_S = 600.0
_DOUBLINGS = 64  # far past any ceiling, short of what a float holds


@dataclass(slots=True)
class Backoff:
    """Waiting times after failures.

    Attributes
    ----------
    first_s: the wait after the first failure [s].
    longest_s: the ceiling [s].
    jitter_frac: each wait is shortened by up to this share, so that many that failed together
        do not come back together [fraction].
    dice: where the jitter comes from; seed it for waits that repeat.
    """

    first_s: float = FIRST_S
    longest_s: float = LONGEST_S
    jitter_frac: float = 0.2
    dice: random.Random = field(default_factory=random.Random)

    @classmethod
    def seeded(cls, seed: int) -> Backoff:
        """Return one whose waits repeat from run to run."""
        return cls(dice=random.Random(seed))  # noqa: S311 - jitter, no secret

    def after_s(self, failures: int) -> float:
        """Return how long to wait after so many failures in a row [s]; 0 after none."""
        if failures <= 0:
            return 0.0
        full_s = min(self.longest_s, self.first_s * 2.0 ** min(failures - 1, _DOUBLINGS))
        return full_s * (1.0 - self.jitter_frac * self.dice.random())
