"""What waits for the clock: nothing a broker waits for is let go, and the rest is bounded."""

from __future__ import annotations

from curewatch.intake import Arrived
from curewatch.intake.held import Held


def arrived(mid: int, *, qos: int = 0, generation: int = 0) -> Arrived:
    return Arrived(
        generation=generation,
        mid=mid,
        qos=qos,
        topic="x",
        payload=b"",
        retained=False,
        received_s=float(mid),
        received_ms=mid,
        backlog=False,
    )


def mids(held: Held) -> list[int]:
    return [message.mid for message in held.all()]


def test_what_waits_is_handed_out_in_order_and_forgotten_once_kept() -> None:
    held = Held()
    assert not held
    held.add([arrived(1), arrived(2, qos=1, generation=1)])
    held.add([arrived(3)])
    assert held
    assert mids(held) == [1, 2, 3]
    held.clear()
    assert not held


def test_too_much_becomes_coarser_and_stays_as_long() -> None:
    held = Held(most=8)
    for mid in range(100):
        held.add([arrived(mid)])
        assert len(held.all()) <= 8
    assert mids(held)[0] == 0
    assert mids(held)[-1] >= 98
    assert held.let_go == 100 - len(held.all())


def test_what_the_broker_waits_for_is_never_let_go() -> None:
    held = Held(most=4)
    held.add([arrived(mid, qos=1, generation=3) for mid in range(50)])
    held.add([arrived(100 + mid) for mid in range(50)])
    assert mids(held)[:50] == list(range(50))
    assert len(held.all()) <= 54


def test_of_an_earlier_connection_the_broker_sends_again() -> None:
    held = Held(most=4)
    held.add([arrived(mid, qos=1, generation=3) for mid in range(50)])
    held.add([arrived(100, qos=1, generation=4)])
    assert len(held.all()) <= 5
    assert mids(held)[-1] == 100
