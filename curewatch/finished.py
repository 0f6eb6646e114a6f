"""The finished pieces that are asked about again, those that left the shop included."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.follow_up import may_be_asked

if TYPE_CHECKING:
    from curewatch.shop.shop import Shop
    from curewatch.storage import Store


def load_finished(store: Store, shop: Shop) -> None:
    """Bring the pieces that may be asked about again up to date."""
    shop.finished = tuple(p for p in store.pieces.load_all(left=True) if may_be_asked(p))
