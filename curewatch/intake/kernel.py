"""Chips and probes the kernel itself reads, found and read through sysfs without any library.

Three of its interfaces are known here: hwmon, IIO and one-wire. Only listing a tree touches no
chip; each value read may start a conversion that takes up to a second. Whatever goes wrong is an
answer (`Found.fault` and its `reason`), never an exception.

References
----------
.. [1] The Linux kernel, Documentation/ABI/testing/sysfs-bus-iio: temperatures [m degC] and
   humidities [m%] as `_input`, or as `(_raw + _offset) * _scale`; pressures in [kPa] alike.
.. [2] The Linux kernel, Documentation/hwmon/sysfs-interface.rst: `tempN_input` [m degC],
   `humidityN_input` [m%], `tempN_fault`, `humidityN_fault`.
.. [3] The Linux kernel, Documentation/w1/slaves/w1_therm.rst: family codes, `temperature`
   [m degC], and `w1_slave` with its checksum's YES or NO and `t=` [m degC].
"""

from __future__ import annotations

import math
import re
import threading
import time
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.shop.reading import RejectReason

if TYPE_CHECKING:
    from collections.abc import Iterator

SYSFS = Path("/sys")
PATIENCE_S = 5.0
A_READ_S = 1.0  # a probe converts for up to 0.75 s (from memory)
_IIO_FOLDER = "iio:device"
_MOST_BYTES = 4096  # an attribute fits one page (Documentation/filesystems/sysfs.rst)
_SHOWN = 40  # characters of an offending value that are repeated to people
_HWMON = re.compile(r"(temp|humidity)\d+_input", re.ASCII)
_IIO = re.compile(
    r"in_((temp)(\d+|_ambient|_object)?|(humidityrelative|pressure)\d*)_(input|raw)", re.ASCII
)
_PROBE = re.compile(r"(10|22|28|3b|42)-[0-9a-f]{12}", re.ASCII | re.IGNORECASE)  # [3]
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_POWER_ON_MC = 85_000.0  # [3], section on features [m degC]
_NO_POWER_MC = range(127_900, 128_000)  # the same: 127.94 degC where the power did not suffice
_MACHINE = re.compile(  # the kernel's names for what measures the computer itself, from memory
    r"coretemp|k10temp|k8temp|zenpower|via_cputemp|acpitz|nvme|drivetemp|amdgpu|radeon|nouveau"
    r"|jc42|spd5118|pch_.*|iwlwifi.*|.*[_-]thermal|rp1_adc|rpi_volt|BAT\d+|applesmc"
    r"|scpi_sensors|scmi_sensors"
)


_BRIDGE = "iio_hwmon"  # the driver that hands IIO's channels on to hwmon (from memory)


class Measured(StrEnum):
    """What a chip measures."""

    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    PRESSURE = "pressure"


UNITS = {Measured.TEMPERATURE: "degC", Measured.HUMIDITY: "%", Measured.PRESSURE: "kPa"}


@dataclass(frozen=True, slots=True)
class Found:
    """One quantity of one chip.

    Attributes
    ----------
    chip: the name the kernel gives the chip, or a probe's own number.
    place: where it sits, such as its bus and address: the same after a restart of the machine.
    device: its directory in the tree.
    path: the file that is read.
    quantity: what it measures.
    value: what it said, in `unit`; None before it was read, and where it could not be.
    unit: 'degC', '%' or 'kPa'.
    fault: why there is no value, in words; None where nothing is wrong.
    reason: the same as a named rejection.
    machine: whether it measures the computer itself.
    also: the same quantity of the same chip in the kernel's other interface, where it has both.
    bridged: whether another interface's numbers are handed on here, so it may be a chip seen twice.
    """

    chip: str
    place: str
    device: Path
    path: Path
    quantity: Measured
    value: float | None = None
    unit: str = ""
    fault: str | None = None
    reason: RejectReason | None = None
    machine: bool = False
    also: Path | None = None
    bridged: bool = False

    def is_called(self, name: str) -> bool:
        """Tell whether `name` means this: a chip's name, place or directory, or one file of it."""
        names = [self.chip, self.place, str(self.device)]
        files = [self.path.name] + ([] if self.also is None else [self.also.name])
        if self.also is not None:
            names.append(str(self.also.parent))
        return any(name in (one, *(f"{one}/{file}" for file in files)) for one in names)


class _Refusal(Exception):  # noqa: N818 - it is an answer on its way out, not an error
    """Why a file gives no value; caught inside this module."""

    def __init__(self, reason: RejectReason, detail: str) -> None:
        super().__init__(detail)
        self.reason = reason
        self.detail = detail


def scan(
    root: Path = SYSFS, *, patience_s: float = PATIENCE_S, each_s: float = A_READ_S
) -> tuple[Found, ...]:
    """Return every quantity of every chip in the sysfs tree at `root`, each read once.

    A bus that is stuck holds whoever asks, so each is asked in a thread of its own, and one that
    has not answered in time is a fault. All together have `patience_s` [s], and `each_s` for every
    one of them, for a bus is asked by one at a time.
    """
    found = listed(root)
    said: list[Found | None] = [None] * len(found)

    def read(place: int) -> None:
        said[place] = read_once(found[place])

    threads = [threading.Thread(target=read, args=(n,), daemon=True) for n in range(len(found))]
    for thread in threads:
        thread.start()
    until_s = time.monotonic() + patience_s + each_s * len(found)
    for thread in threads:
        thread.join(max(0.0, until_s - time.monotonic()))
    return tuple(now or unanswered(one) for one, now in zip(found, said, strict=True))


def unanswered(found: Found) -> Found:
    """Return `found` as one that does not answer."""
    why = f"{found.path} does not answer and holds whoever asks it; look at its wiring"
    return replace(found, value=None, fault=why, reason=RejectReason.READ_ERROR)


def listed(root: Path = SYSFS) -> tuple[Found, ...]:
    """Return the same without a value: no chip is asked anything.

    A chip that two interfaces have is listed once: a probe as a probe, for there alone its
    checksum is told, and a chip of hwmon and IIO as hwmon's.
    """
    probes = [*_one_wire(root / "bus" / "w1" / "devices")]
    hwmon = [*_hwmon(root / "class" / "hwmon")]
    iio = [*_iio(root / "bus" / "iio" / "devices")]
    bridge = {found.quantity for found in iio}
    joined, left = _joined(probes, hwmon)
    chips, rest = _joined(left, iio)
    return tuple(
        replace(one, bridged=one.chip == _BRIDGE and one.quantity in bridge)
        for one in (*chips, *rest, *joined)
    )


def _joined(first: list[Found], second: list[Found]) -> tuple[list[Found], list[Found]]:
    """Join what two interfaces tell of one chip: same bus and address, one channel in each.

    Return all of the first interface, and what of the second is not among it.
    """
    joined, gone = [], set()
    for one in first:
        same = [sum(_alike(o, one) for o in each) for each in (first, second)]
        if same == [1, 1]:
            (path,) = [o.path for o in second if _alike(o, one)]
            joined.append(replace(one, also=path))
            gone.add(path)
        else:
            joined.append(one)
    return joined, [one for one in second if one.path not in gone]


def _alike(one: Found, other: Found) -> bool:
    return (one.place, one.quantity) == (other.place, other.quantity)


def read_once(found: Found) -> Found:
    """Return `found` with what the chip says now, or with why it says nothing."""
    try:
        value = _value(found)
    except _Refusal as refusal:
        return replace(found, value=None, fault=refusal.detail, reason=refusal.reason)
    return replace(found, value=value, fault=None, reason=None)


def _hwmon(folder: Path) -> Iterator[Found]:
    for device in _directories(folder, "hwmon"):
        for name in _names(device):
            kind = _HWMON.fullmatch(name)
            if kind is not None:
                what = Measured.HUMIDITY if kind[1] == "humidity" else Measured.TEMPERATURE
                yield _found(device, name, what)


def _iio(folder: Path) -> Iterator[Found]:
    for device in _directories(folder, _IIO_FOLDER):
        names = _names(device)
        for name in names:
            kind = _IIO.fullmatch(name)
            if kind is None or (kind[5] == "raw" and f"in_{kind[1]}_input" in names):
                continue
            what = {"temp": Measured.TEMPERATURE, "pressure": Measured.PRESSURE}
            yield _found(device, name, what.get(kind[2] or kind[4], Measured.HUMIDITY))


def _one_wire(folder: Path) -> Iterator[Found]:
    for device in _directories(folder, ""):
        if _PROBE.fullmatch(device.name):
            # the older file alone tells of the checksum, so it is preferred
            name = "w1_slave" if "w1_slave" in _names(device) else "temperature"
            yield _found(device, name, Measured.TEMPERATURE, chip=device.name)


def _found(device: Path, name: str, quantity: Measured, *, chip: str | None = None) -> Found:
    called = chip or _chip_name(device)
    return Found(
        chip=called,
        place=chip or _place(device),
        device=device,
        path=device / name,
        quantity=quantity,
        unit=UNITS[quantity],
        machine=_MACHINE.fullmatch(called) is not None,
    )


def _chip_name(device: Path) -> str:
    try:
        return _text(device / "name") or device.name
    except _Refusal:
        return device.name


def _place(device: Path) -> str:
    """Return the bus and address a chip hangs at, such as '1-0044'.

    The kernel numbers its own directories in the order they come up, so they will not do. A hwmon
    directory links to its chip, if it has one; an IIO directory lies in it.
    """
    try:
        link = device / "device"
        if link.exists():
            return link.resolve().name
        real = device.resolve()
    except (OSError, RuntimeError):  # a link that leads round in a circle
        return device.name
    return real.parent.name if device.is_symlink() and _IIO_FOLDER in device.name else device.name


def _directories(folder: Path, prefix: str) -> list[Path]:
    return [folder / name for name in _names(folder) if name.startswith(prefix)]


def _names(folder: Path) -> list[str]:
    """Return what is in a directory, numbers in their order; nothing where it is not there."""
    try:
        names = [entry.name for entry in folder.iterdir()]
    except OSError:
        return []
    return sorted(names, key=lambda name: (len(name), name))


def _value(found: Found) -> float:
    if found.path.name == "w1_slave":
        return _probe_c(_text(found.path), found.path)
    number = _number(_text(found.path), found.path)
    if _PROBE.fullmatch(found.device.name):
        return _believed_c(number)
    if found.path.name.endswith("_raw"):
        number = _scaled(found, number)
    elif _HWMON.fullmatch(found.path.name):
        _refuse_faulty(found)
    return number if found.quantity is Measured.PRESSURE else number / 1000.0


def _probe_c(text: str, path: Path) -> float:
    """Read the two lines of `w1_slave`; the value counts only where the checksum does."""
    first, _, rest = text.partition("\n")
    if not first.endswith("YES"):
        raise _Refusal(
            RejectReason.CHECKSUM,
            f"{path}: the probe's answer was garbled on its wire ({first[-12:]!r}); look at the "
            "wiring, its length and the pull-up resistor",
        )
    return _believed_c(_number(rest.rpartition("t=")[2], path))


def _believed_c(number_mc: float) -> float:
    if number_mc == _POWER_ON_MC:
        raise _Refusal(RejectReason.POWER_ON_VALUE, "85 degC: what a probe says when it starts")
    if int(number_mc) in _NO_POWER_MC:
        raise _Refusal(
            RejectReason.DISCONNECTED_VALUE,
            f"{number_mc / 1000:g} degC: what a probe says that gets too little power",
        )
    return number_mc / 1000.0


def _scaled(found: Found, raw: float) -> float:
    """Return a raw number in the unit the interface has for it: offset first, then scale [1]."""
    scale = _beside(found, "scale")
    if scale is None:
        raise _Refusal(
            RejectReason.MISSING, f"{found.path}: no scale beside it, so it means nothing"
        )
    value = (raw + (_beside(found, "offset") or 0.0)) * scale
    if not math.isfinite(value):
        raise _Refusal(RejectReason.NOT_A_NUMBER, f"{found.path}: not a finite number once scaled")
    return value


def _beside(found: Found, what: str) -> float | None:
    """Return a raw channel's scale or offset: its own, or the one its kind shares [1]."""
    own = found.path.name.removesuffix("raw")
    kind = {Measured.TEMPERATURE: "temp", Measured.HUMIDITY: "humidityrelative"}
    for stem in dict.fromkeys((own, f"in_{kind.get(found.quantity, 'pressure')}_")):
        path = found.device / f"{stem}{what}"
        text = _text_if_there(path)
        if text is not None:
            return _number(text, path)
    return None


def _refuse_faulty(found: Found) -> None:
    path = found.path.with_name(found.path.name.replace("_input", "_fault"))
    if _text_if_there(path) not in (None, "0"):
        raise _Refusal(RejectReason.DISCONNECTED_VALUE, f"{path}: the chip reports a broken sensor")


def _text_if_there(path: Path) -> str | None:
    try:
        return _text(path)
    except _Refusal as refusal:
        if refusal.reason is RejectReason.MISSING:
            return None
        raise


def _text(path: Path) -> str:
    """Return what an attribute holds, without the line's end."""
    try:
        with path.open("rb", buffering=0) as file:
            return file.read(_MOST_BYTES).decode("ascii", "replace").strip()
    except FileNotFoundError:
        raise _Refusal(
            RejectReason.MISSING, f"{path} is not there; see whether the chip is still connected"
        ) from None
    except OSError as error:
        raise _Refusal(RejectReason.READ_ERROR, f"{path}: {error.strerror}") from None


def _number(text: str, path: Path) -> float:
    text = text.strip()
    if not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        shown = repr(text[:_SHOWN]) if text else "nothing"
        raise _Refusal(RejectReason.NOT_A_NUMBER, f"{path} holds {shown}, not a number")
    return float(text)
