"""A sysfs tree of our own making in the layout the kernel documents; its chips are invented.

hwmon: Documentation/hwmon/sysfs-interface.rst; IIO: Documentation/ABI/testing/sysfs-bus-iio;
one-wire: Documentation/w1/slaves/w1_therm.rst.
"""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

PROBE = "28-0123456789ab"
UNREADABLE = Path("/proc/self/mem")  # reading its first byte is a true EIO


@dataclass(frozen=True)
class SysfsTree:
    """Writes the tree at `root`, and changes it as chips come and go."""

    root: Path

    def hwmon(self, number: int, name: str, at: str | None = None, /, **files: object) -> Path:
        """Add a hwmon directory below its chip at bus and address `at`; the class links to it."""
        chip = self.root / "devices" / (at or "virtual")
        real = chip / "hwmon" / f"hwmon{number}"
        self._write(real, name=name, **files)
        if at is not None:
            (real / "device").symlink_to("../..")
        return self._linked(real, self.root / "class" / "hwmon")

    def iio(self, number: int, name: str, at: str, /, **files: object) -> Path:
        """Add an IIO directory: it lies in its chip's, and the bus links to it."""
        real = self.root / "devices" / at / f"iio:device{number}"
        self._write(real, name=name, **files)
        return self._linked(real, self.root / "bus" / "iio" / "devices")

    def probe(
        self,
        number: str = PROBE,
        /,
        *,
        milli_c: object = 21_437,
        crc: str = "YES",
        old: bool = True,
    ) -> Path:
        """Add a one-wire probe, with or without the older of its two files."""
        folder = self.root / "bus" / "w1" / "devices" / number
        files: dict[str, object] = {"temperature": milli_c}
        if old:
            nine = "57 01 4b 46 7f ff 09 10 d3"
            files["w1_slave"] = f"{nine} : crc=d3 {crc}\n{nine} t={milli_c}"
        self._write(folder, name=number, **files)
        return folder

    def unreadable(self, path: Path) -> None:
        """Let reading a file fail as a chip's does that does not answer: EIO."""
        path.unlink(missing_ok=True)
        path.symlink_to(UNREADABLE)

    def take_away(self, folder: Path) -> None:
        """Take a chip out of the tree."""
        if folder.is_symlink():
            shutil.rmtree(folder.resolve())
            folder.unlink()
        else:
            shutil.rmtree(folder)

    def _linked(self, real: Path, folder: Path) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        link = folder / real.name
        link.symlink_to(real)
        return link

    def _write(self, folder: Path, **files: object) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            beside = folder / f".{name}"  # sysfs never shows half a value either
            beside.write_text(f"{content}\n", encoding="ascii")
            os.replace(beside, folder / name)  # noqa: PTH105 - the two names side by side
