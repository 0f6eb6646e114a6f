"""What must hold between the tables of a configuration, and between it and the disk."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from curewatch.intake.families import ID_PLACE
from curewatch.settings.faults import labelled, near
from curewatch.settings.kinds import kind_names
from curewatch.settings.sensor_tables import KindTable, SensorTable
from curewatch.settings.sources import source_faults
from curewatch.settings.tables import (
    SHARED_KEYS,
    BrokerTable,
    FinishesTable,
    InfluxTable,
    NotifyTable,
    RoomTable,
    SiteTable,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from curewatch.settings.faults import Findings
    from curewatch.shop.reading import Quantity


def check_agreement(found: Findings, given: Mapping[str, object], root: Path) -> None:
    """Add to `found` what does not fit together; relative paths start at `root`."""
    _check_rooms(found, given)
    _check_kinds(found, given)
    _check_sensors(found)
    _check_broker(found, root)
    _check_mirror(found, root)
    _check_others(found, root)


def _check_rooms(found: Findings, given: Mapping[str, object]) -> None:
    """Check that every sensor hangs in a room, also where its table has other faults."""
    names = [str(room.get("name")) for _, room in _raw(given, "room")]
    for number, sensor in _raw(given, "sensor"):
        room = sensor.get("room")
        if isinstance(room, str) and room not in names:
            fault = (
                f"sensor[{number}].room: there is no room '{room[:80]}'"
                f"{near(room, names) or '; add a [[room]] of that name'}"
            )
            found.faults.append(labelled(fault, sensor))
    first: dict[str, str] = {}
    for path, room in found.of(RoomTable):
        if room.name in first:
            found.faults.append(
                f"{path}.name ({room.name}): {first[room.name]} has that name already; give each "
                "room its own"
            )
        first.setdefault(room.name, path)
    for name in first:
        _check_coverage(found, name)


def _check_kinds(found: Findings, given: Mapping[str, object]) -> None:
    """Check that every kind a sensor names is there, once."""
    known = kind_names(given)
    for number, sensor in _raw(given, "sensor"):
        kind = sensor.get("kind")
        if isinstance(kind, str) and kind not in known:
            fault = (
                f"sensor[{number}].kind: there is no kind '{kind[:80]}'"
                f"{near(kind, known) or '; add a [[kind]] of that name'}"
            )
            found.faults.append(labelled(fault, sensor))
    first: dict[str, str] = {}
    for path, table in found.of(KindTable):
        if first.setdefault(table.name, path) != path:
            found.faults.append(
                f"{path}.name ({table.name}): {first[table.name]} has that name already; give "
                "each kind its own"
            )
        family = table.family()
        if ID_PLACE not in family.topic and not family.records:
            found.faults.append(
                f"{path}.topic ({table.name}): nothing tells such sensors apart; put {ID_PLACE} "
                "where their names stand, as in 'shop/{id}/climate'"
            )


def _raw(given: Mapping[str, object], key: str) -> list[tuple[int, dict[str, object]]]:
    """Return the tables of a list as they were written, counted from 1."""
    value = given.get(key)
    elements = value if isinstance(value, list) else []
    return [(n, table) for n, table in enumerate(elements, 1) if isinstance(table, dict)]


def _check_coverage(found: Findings, room: str) -> None:
    quantities = {
        quantity.word
        for _, sensor in found.of(SensorTable)
        if sensor.room == room
        for quantity in sensor.quantities()
    }
    missing = sorted({"temperature", "humidity"} - quantities, reverse=True)
    if missing:
        found.warnings.append(
            f"room '{room}': no sensor gives its {' or '.join(missing)}, so nothing can be said "
            "of pieces there; add a [[sensor]] for it"
        )


def _check_sensors(found: Findings) -> None:
    firsts: dict[str, tuple[str, SensorTable]] = {}
    places: dict[tuple[str, str], list[str]] = defaultdict(list)
    sources: dict[tuple[str, Quantity], list[str]] = defaultdict(list)
    for path, sensor in found.of(SensorTable):
        found.faults += [
            labelled(fault, {"id": sensor.id}) for fault in source_faults(path, sensor)
        ]
        if sensor.topic is not None and sensor.kernel is None:
            if set("+#") & set(sensor.topic):
                found.warnings.append(
                    f"{path}.topic ({sensor.id}): '{sensor.topic}' takes everyone who speaks there "
                    f"for one sensor; where they are several give each its own, or describe a "
                    "[[kind]] with {id} in its topic"
                )
            for quantity, pointer in sensor.mapping("UTC").pointers():
                places[sensor.topic, pointer].append(f"{path}.{quantity.word}")
        for quantity in sensor.quantities():
            sources[sensor.id, quantity].append(f"{path}.{quantity.word}")
        first_path, first = firsts.setdefault(sensor.id, (path, sensor))
        for key in SHARED_KEYS:
            if {key} <= sensor.model_fields_set & first.model_fields_set and (
                getattr(sensor, key) != getattr(first, key)
            ):
                found.faults.append(
                    f"{path}.{key} ({sensor.id}): {first_path} says otherwise of the same sensor; "
                    "make the two agree, or give this one an id of its own"
                )
    _warn_of_doubles(found, places, sources)


def _warn_of_doubles(
    found: Findings,
    places: Mapping[tuple[str, str], list[str]],
    sources: Mapping[tuple[str, Quantity], list[str]],
) -> None:
    for (topic, pointer), paths in places.items():
        if len(paths) > 1:
            found.warnings.append(
                f"{' and '.join(paths)} read the same number ('{pointer}' of topic '{topic}'); "
                "see that this is meant"
            )
    for (name, quantity), paths in sources.items():
        if len(paths) > 1:
            found.warnings.append(
                f"{' and '.join(paths)} are both the {quantity.word} of sensor '{name}'; where "
                "they differ at one instant only the first is kept: give each an id of its own"
            )


def _check_mirror(found: Findings, root: Path) -> None:
    for path, influx in found.of(InfluxTable):
        _check_secret(found, root, f"{path}.token_file", influx.token_file)
        if influx.ca_file is not None and not (root / influx.ca_file).is_file():
            found.faults.append(f"{path}.ca_file: {_no_file(root / influx.ca_file)}")
        needed = ("url", "org", "bucket", "token_file")
        missing = [key for key in needed if getattr(influx, key) is None]
        if missing and len(missing) < len(needed):
            found.faults.append(
                f"{path}.{missing[0]}: a mirror needs url, org, bucket and token_file; set "
                f"{' and '.join(missing)} too, or none of them"
            )


def _check_broker(found: Findings, root: Path) -> None:
    for path, broker in found.of(BrokerTable):
        _check_secret(found, root, f"{path}.password_file", broker.password_file)
        if broker.password_file is not None and broker.username is None:
            found.faults.append(
                f"{path}.password_file: a password needs a name with it; set {path}.username"
            )
        if broker.ca_file is not None and not broker.tls:
            found.faults.append(f"{path}.ca_file: is of no use without {path}.tls = true")
        if broker.fingerprint is not None and not broker.tls:
            found.faults.append(f"{path}.fingerprint: is of no use without {path}.tls = true")
        if broker.ca_file is not None and not (root / broker.ca_file).is_file():
            found.faults.append(f"{path}.ca_file: {_no_file(root / broker.ca_file)}")
        if broker.password_file is not None and not broker.tls and not _is_here(broker.host):
            found.warnings.append(
                f"{path}: the password goes over the network to '{broker.host}' for all to read; "
                f"set {path}.tls = true"
            )


def _check_others(found: Findings, root: Path) -> None:
    for path, finishes in found.of(FinishesTable):
        directory = finishes.directory
        if directory is not None and not (root / directory).is_dir():
            found.faults.append(
                f"{path}.directory: there is no directory {root / directory}; make it, or leave "
                "the key out to use the finishes that come with curewatch"
            )
    for path, notify in found.of(NotifyTable):
        _check_secret(found, root, f"{path}.urls_file", notify.urls_file)
    for path, site in found.of(SiteTable):
        if "timezone" not in site.model_fields_set:
            found.warnings.append(
                f"{path}.timezone is not set, so times are told in UTC; set it to an IANA name "
                "such as 'Europe/Berlin'"
            )


def _check_secret(found: Findings, root: Path, key: str, path: Path | None) -> None:
    if path is None:
        return
    try:
        there = (root / path).is_file()
    except PermissionError:
        return  # who reads it will say so
    if not there:
        found.faults.append(f"{key}: {_no_file(root / path)}")
    else:
        found.warnings += openness(root / path, key)


def openness(path: Path, key: str) -> list[str]:
    """Return a warning where others may read a file with secrets, or its group may change it."""
    if not path.stat().st_mode & 0o027:
        return []
    close = f"'chmod u=rw,g=r,o= {path}' closes it"
    return [f"{key}: {path} holds secrets that others may read or change; {close}"]


def _no_file(path: Path) -> str:
    return f"there is no file {path}; make it, or correct the path"


def _is_here(host: str) -> bool:
    return host in ("localhost", "::1") or host.startswith("127.")
