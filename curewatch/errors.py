"""The project's one small tree of errors.

Every message says what went wrong, on what, why, and what to do about it.
"""


class CurewatchError(Exception):
    """Anything curewatch can explain to the person in front of it."""


class BadInput(CurewatchError, ValueError):  # noqa: N818 - reads as the sentence it is
    """A value that cannot be true or is outside the range an equation holds for."""


class BadConfig(CurewatchError):  # noqa: N818
    """A configuration or finish file with faults; all of them are named at once.

    Attributes
    ----------
        faults: one line per fault: key path, what is wrong, how to mend it.
    """

    def __init__(self, source: str, faults: list[str]) -> None:
        """Collect the `faults` found in `source`."""
        self.source = source
        self.faults = faults
        lines = "\n".join(f"  - {fault}" for fault in faults)
        super().__init__(f"{source} cannot be used as it stands:\n{lines}")


class StorageError(CurewatchError):
    """The database could not be read or written."""


class TransportError(CurewatchError):
    """A message could not be delivered; `retry` says whether trying again can help."""

    def __init__(self, message: str, *, retry: bool) -> None:
        """Explain the failure and whether it may pass."""
        self.retry = retry
        super().__init__(message)
