"""Documents for people: a piece's record and care, its label, and how they become files.

The facts are the shop's (`curewatch.shop.record`); here they are gathered from storage, put into
plain data and tables, and made PDF. What they look like as a page stands in `curewatch.web`.
"""

from curewatch.records.gather import Record, record_of

__all__ = ["Record", "record_of"]
