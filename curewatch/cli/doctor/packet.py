"""The help packet: one file for a helper, with what was found and without anybody's secrets.

Everything in it passes through one `Redactor`; what is in it is told before it is written.
"""

from __future__ import annotations

import csv
import io
import json
import re
import tarfile
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.cli.bench import is_there
from curewatch.cli.doctor.finding import Finding, State
from curewatch.cli.doctor.gathered import (
    all_known,
    configuration_plain,
    database_plain,
    last_log_lines,
    pieces_plain,
    readings_thinned,
    secrets_of,
    versions_plain,
)
from curewatch.cli.doctor.redact import Redactor
from curewatch.cli.files import write_new
from curewatch.cli.show import print_json, say, table
from curewatch.clock import system_ms
from curewatch.errors import BadConfig, BadInput, StorageError
from curewatch.settings import load_settings
from curewatch.shop.plain import FORMAT, instant
from curewatch.storage import Store
from curewatch.storage.inventory import what_people_wrote

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Mapping, Sequence

    from curewatch.settings import Settings
    from curewatch.shop.plain import PlainValue

ENDINGS = (".tar.gz", ".tgz", ".zip")
FOLDER = "curewatch-help"
ABOUT = """\
A help packet of curewatch, made {at}.

Taken out: passwords, tokens, the addresses of notices but for their kind, user names, the digest of
the page's passphrase, host names the page is called by{names}. Where something stood
that was taken out, it says '[taken out]'. Look it through before you give it to anybody: only you
know what else in it is nobody's business.

"""
LONG_WORD = 4  # a shorter one of a title is no name
NAMES_OUT = ", and pieces' titles, notes and people's names"
NO_LOG = (
    "left out: a file with secrets or the database could not be read, so nobody knows what would "
    "have to be taken out of the log\n"
)
NAMES_IN = "; pieces' titles and people's names were left in as asked"


@dataclass(frozen=True, slots=True)
class Member:
    """One file of a packet.

    Attributes
    ----------
    name: of the file.
    what: what it holds, for people.
    content: as it is written.
    """

    name: str
    what: str
    content: bytes


def names_in(written: Mapping[str, Sequence[str]]) -> set[str]:
    """Return what people wrote, and the words of titles and names, to be taken out."""
    whole = {text for texts in written.values() for text in texts if len(text) >= LONG_WORD}
    words = {word for text in written.get("titles", ()) for word in re.findall(r"\w+", text)}
    people = {word for text in written.get("people", ()) for word in re.findall(r"\w+", text)}
    return whole | people | {word for word in words if len(word) >= LONG_WORD}


def write_packet(args: argparse.Namespace, found: list[Finding]) -> int:
    """Tell what goes into the packet, and write it.

    Raises
    ------
    BadInput
        When the file's name has no ending of a packet, or the file is there already.
    """
    if not args.packet.name.endswith(ENDINGS):
        raise BadInput(f"{args.packet}: end the packet's name in {' or '.join(ENDINGS)}")
    at_ms = system_ms()
    members = list(_members(args, found, at_ms))
    content = _packed(args.packet.name, members, at_ms)
    if not args.json:
        table(
            ("file", "bytes", "what is in it"),
            [(one.name, str(len(one.content)), one.what) for one in members],
        )
    write_new(args.packet, content, force=args.force, mode=0o600)
    if args.json:
        print_json(_answer(str(args.packet), len(content), members, found))
        return 0
    names = NAMES_IN if args.with_names else NAMES_OUT
    say(f"Taken out: passwords, tokens, addresses of notices, user names{names}.")
    say(f"{args.packet} is written, {len(content) // 1024 + 1} KiB; only you may open the file; "
        "look it through before you give it to anybody.")  # fmt: skip
    return 0


def _answer(
    path: str, size: int, members: Sequence[Member], found: Sequence[Finding]
) -> dict[str, PlainValue]:
    return {
        "format": FORMAT,
        "packet": path,
        "bytes": size,
        "members": [
            {"name": one.name, "bytes": len(one.content), "what": one.what} for one in members
        ],
        "faults": sum(one.state is State.FAULT for one in found),
        "to_look_at": sum(one.state is State.LOOK for one in found),
    }


def _members(args: argparse.Namespace, found: list[Finding], at_ms: int) -> Iterator[Member]:
    """Yield the files; what cannot be had is left out, and the findings say why."""
    try:
        settings = load_settings(args.config)
    except BadConfig:
        settings = None
    store = _opened(settings)
    try:
        written = what_people_wrote(store.db) if store is not None else {}
        names = () if args.with_names else names_in(written)
        redactor = Redactor(secrets_of(settings, store), names)
        named = NAMES_IN if args.with_names else NAMES_OUT
        about = ABOUT.format(at=instant(at_ms), names=named)
        yield Member("about.txt", "what this is, and what was taken out", about.encode())
        findings: PlainValue = [one.plain() for one in found]
        yield _json("findings.json", "everything doctor found", findings, redactor)
        yield _json("versions.json", "this program, its libraries, the system", versions_plain(),
                    redactor)  # fmt: skip
        if settings is not None:
            what = "the configuration in use, without secrets"
            yield _json("configuration.json", what, configuration_plain(settings), redactor)
        if store is not None:
            what = "schema, sizes, how many rows each table has, alerts by kind"
            yield _json("database.json", what, database_plain(store), redactor)
            readings = redactor.text(_csv(readings_thinned(store)))
            what = "readings of the last day, one in ten minutes of each sensor"
            yield Member("readings.csv", what, readings.encode())
        log = last_log_lines() if all_known(settings, store) else NO_LOG
        if log:
            what = "the daemon's last log lines"
            yield Member("log.txt", what, redactor.text(log).encode())
        if store is not None and args.with_names:
            what = "pieces with titles, and who did what"
            yield _json("pieces.json", what, pieces_plain(store), redactor)
    finally:
        if store is not None:
            store.close()


def _opened(settings: Settings | None) -> Store | None:
    """Open what is stored, to read; None where that cannot be."""
    if settings is None:
        return None
    try:
        if not is_there(settings.storage.path):
            return None
        return Store.open(settings.storage.path, read_only=True)
    except StorageError:
        return None


def _json(name: str, what: str, value: PlainValue, redactor: Redactor) -> Member:
    text = json.dumps(redactor.plain(value), indent=2, ensure_ascii=False)
    return Member(name, what, f"{text}\n".encode())


def _csv(rows: Iterator[tuple[str, ...]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _packed(name: str, members: Sequence[Member], at_ms: int) -> bytes:
    """Return the packet as one file; nothing of this machine's users stands in it."""
    out = io.BytesIO()
    if name.endswith(".zip"):
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packet:
            for one in members:
                packet.writestr(f"{FOLDER}/{one.name}", one.content)
        return out.getvalue()
    with tarfile.open(fileobj=out, mode="w:gz") as packet:
        for one in members:
            entry = tarfile.TarInfo(f"{FOLDER}/{one.name}")
            entry.size, entry.mtime, entry.mode = len(one.content), at_ms // 1000, 0o644
            packet.addfile(entry, io.BytesIO(one.content))
    return out.getvalue()
