"""Planning: a day at the gun, a date worked back from, and what another climate would change.

What people may ask, and what the answers are made from, shared by the commands and the page. The
answers themselves are the shop's (`curewatch.shop`); nothing is printed here.
"""

from curewatch.planning.asks import planned
from curewatch.planning.known import Known
from curewatch.planning.wish import DEFAULT_COAT_MIN, ChangeWish, PlanWish

__all__ = ["DEFAULT_COAT_MIN", "ChangeWish", "Known", "PlanWish", "planned"]
