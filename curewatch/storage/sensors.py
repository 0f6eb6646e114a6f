"""Sensors by small integer, as readings are keyed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class SensorNumbers:
    """The sensor ids and their numbers, remembered while nothing was rolled back."""

    def __init__(self, db: Database) -> None:
        """Read from `db`."""
        self._db = db
        self._numbers: dict[str, int] = {}
        self._rollbacks = db.rollbacks

    def known(self) -> dict[str, int]:
        """Return every sensor's number by its id, afresh from the file."""
        self._numbers = dict(self._db.rows("SELECT id, number FROM sensor"))
        self._rollbacks = self._db.rollbacks
        return self._numbers

    def names(self) -> dict[int, str]:
        """Return every sensor's id by its number."""
        return {number: sensor for sensor, number in self.known().items()}

    def find(self, sensor: str) -> int | None:
        """Return the number of `sensor`, None when it was never heard."""
        if self._rollbacks != self._db.rollbacks:
            self.known()  # a number given in a transaction that was undone is no number
        number = self._numbers.get(sensor)
        return self.known().get(sensor) if number is None else number

    def give(self, sensor: str) -> int:
        """Return the number of `sensor`, giving it one; call inside a transaction."""
        number = self.find(sensor)
        if number is None:
            number = self._db.insert("INSERT INTO sensor (id) VALUES (?)", (sensor,))
            self._numbers[sensor] = number
        return number
