from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.plain_state import State
from curewatch.storage.states import DAY_MS, KEPT_MS

if TYPE_CHECKING:
    from curewatch.storage import Store


def states(*times: int) -> list[State]:
    return [State(at_ms=at_ms, kind="piece", name="D-1", facts={"coats": 2}) for at_ms in times]


def test_states_come_back_in_the_order_in_which_they_were_kept(store: Store) -> None:
    room = State(at_ms=9, kind="room", name="loft", facts={"fresh": True, "dew_point_c": 8.5})
    store.states.add([room, *states(7)])
    assert store.states.after(0, 10) == [(1, room), (2, states(7)[0])]
    assert store.states.after(1, 10) == [(2, states(7)[0])]
    assert store.states.after(0, 1) == [(1, room)]


def test_old_states_are_taken_away_and_their_numbers_never_come_again(store: Store) -> None:
    store.states.add(states(1, 2 * DAY_MS))
    assert store.states.prune(KEPT_MS + DAY_MS) == 1
    assert [state.at_ms for _, state in store.states.after(0, 10)] == [2 * DAY_MS]
    assert store.states.prune(KEPT_MS * 3) == 1
    store.states.add(states(5))
    assert store.states.after(0, 10) == [(3, states(5)[0])]


def test_of_too_many_states_the_oldest_go(store: Store) -> None:
    store.states.add(states(1, 2, 3))
    assert store.states.prune(3, most=2) == 1
    assert [number for number, _ in store.states.after(0, 10)] == [2, 3]
