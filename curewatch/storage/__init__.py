"""Storage: the one SQLite file, its schema, and one repository for each noun.

What sensors say is keyed by time, sensor and quantity, so a message delivered twice is kept once.
What people enter is append-only and corrected by voiding. Every write is a short transaction that
is on the disk when it returns; other processes may write the same file in between.
"""

from curewatch.storage.database import Database, sqlite_version
from curewatch.storage.store import Store

__all__ = ["Database", "Store", "sqlite_version"]
