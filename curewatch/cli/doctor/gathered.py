"""What a helper needs to see, gathered as plain data; what is secret is named by `secrets_of`."""

from __future__ import annotations

import contextlib
import platform
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from curewatch import __version__
from curewatch.cli.doctor.permissions import secret_files
from curewatch.cli.doctor.redact import GONE, parts_of_address
from curewatch.cli.doctor.versions import every
from curewatch.errors import BadConfig
from curewatch.outbound.targets import target_names
from curewatch.shop.plain import instant
from curewatch.storage.database import sqlite_version
from curewatch.storage.inventory import row_counts
from curewatch.storage.page_sessions import PASSPHRASE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.settings import Settings
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.storage import Store

DAY_MS = 86_400_000
STEP_MS = 10 * 60_000
LARGEST_SECRET = 16_384
LOG_LINES = 300
NO_ENTRIES = "-- No entries --"  # so journalctl says where it may read none
QUIETLY = ("--no-pager", "--no-hostname")
LOG_PATIENCE_S = 20.0
OS_RELEASE = Path("/etc/os-release")


def secrets_of(settings: Settings | None, store: Store | None) -> set[str]:
    """Return every secret that can be known, so that it can be looked for."""
    found: set[str] = set()
    if settings is not None:
        for ask in (settings.broker_password, settings.influx_token):
            with contextlib.suppress(BadConfig):
                found.add(ask() or "")
        with contextlib.suppress(BadConfig):
            for url in settings.notify_urls():
                found |= parts_of_address(url)
        for hidden in settings.notify.urls:  # where the file of the others cannot be read
            found |= parts_of_address(hidden.get_secret_value())
        for path in _files_with_secrets(settings):
            with contextlib.suppress(OSError, UnicodeDecodeError):
                found |= {line.strip() for line in path.read_text("utf-8").splitlines()}
        found |= {settings.broker.username or "", settings.influx.org or ""}
        found |= set(settings.page.names)
    if store is not None:
        found.add(str(store.meta.get(PASSPHRASE) or ""))
        for (digest,) in store.db.rows("SELECT digest FROM page_session"):
            found.add(bytes(digest).hex())
    return {secret for secret in found if len(secret) > 1}


def all_known(settings: Settings | None, store: Store | None) -> bool:
    """Whether all secrets and names can be known: else nothing goes out that others wrote."""
    if settings is None or (store is None and not _is_surely_absent(settings.storage.path)):
        return False
    try:
        for ask in (settings.broker_password, settings.influx_token, settings.notify_urls):
            ask()
    except BadConfig:
        return False
    return True


def _files_with_secrets(settings: Settings) -> set[Path]:
    """Return the files that are named, and those beside the configuration that look like it."""
    found = {path for _, path in secret_files(settings)}
    if settings.source is not None:
        for word in ("password", "passwd", "token", "secret", "urls"):
            with contextlib.suppress(OSError):
                found |= {
                    path
                    for path in settings.source.parent.glob(f"*{word}*")
                    if path.is_file() and path.stat().st_size < LARGEST_SECRET
                }
    return found


def _is_surely_absent(path: Path) -> bool:
    try:
        return not path.exists()
    except OSError:
        return False


def configuration_plain(settings: Settings) -> Plain:
    """Return the configuration in use, without what is secret."""
    plain: dict[str, Any] = settings.model_dump(mode="json")
    plain["notify"]["urls"] = []
    with contextlib.suppress(BadConfig):
        plain["notify"]["urls"] = [*target_names(settings.notify_urls())]
    for table, key in (("broker", "username"), ("influx", "org")):
        if plain[table][key] is not None:
            plain[table][key] = GONE
    plain["page"]["names"] = [GONE for _ in settings.page.names]
    if settings.influx.url is not None:
        parts = urlsplit(settings.influx.url)
        plain["influx"]["url"] = f"{parts.scheme}://{parts.netloc}"
    return {"read_from": str(settings.source or "no file"), "tables": plain}


def versions_plain() -> Plain:
    """Return what this program runs on."""
    system = ""
    with contextlib.suppress(OSError, UnicodeDecodeError):
        lines = OS_RELEASE.read_text("utf-8").splitlines()
        system = next((line[12:].strip('"') for line in lines if line[:12] == "PRETTY_NAME="), "")
    return {
        "curewatch": __version__,
        "python": platform.python_version(),
        "machine": platform.machine(),
        "kernel": platform.release(),
        "system": system,
        "sqlite": sqlite_version(),
        "libraries": {**every()},
    }


def database_plain(store: Store) -> Plain:
    """Return what the database holds, by number."""
    path = store.db.path
    sizes: dict[str, PlainValue] = {
        part.name: part.stat().st_size
        for part in (path, path.with_name(f"{path.name}-wal"))
        if part.is_file()
    }
    alerts: dict[str, PlainValue] = {}
    for kind, phase, number in store.db.rows(
        "SELECT kind, phase, count(*) FROM alert GROUP BY kind, phase ORDER BY kind, phase"
    ):
        alerts[f"{kind} {phase}"] = number
    pending = store.notices.pending()
    return {
        "schema": store.db.schema_number(),
        "bytes": sizes,
        "rows": {**row_counts(store.db)},
        "oldest_reading_at": instant(store.readings.oldest_ms()),
        "newest_reading_at": instant(store.readings.newest_ms()),
        "alerts": alerts,
        "notices": {
            "waiting": pending.waiting,
            "failing": pending.failing,
            "given_up": pending.given_up,
            "last_error": next((n.error for n in store.notices.recent() if n.error), ""),
        },
    }


def readings_thinned(store: Store) -> Iterator[tuple[str, ...]]:
    """Yield readings of the last day before the newest, the first of each ten minutes."""
    yield ("sensor", "quantity", "at", "value")
    newest_ms = store.readings.newest_ms()
    if newest_ms is None:
        return
    taken: set[tuple[str, int, int]] = set()
    for one in store.readings.rows(newest_ms - DAY_MS, newest_ms + 1):
        key = (one.sensor, int(one.quantity), one.at_ms // STEP_MS)
        if key not in taken:
            taken.add(key)
            yield (one.sensor, one.quantity.word, instant(one.at_ms) or "", f"{one.value:.5g}")


def last_log_lines() -> str:
    """Return the daemon's last log lines; '' where nobody keeps them or we may not read them."""
    program = shutil.which("journalctl")
    if program is None:
        return ""
    words = (program, "-u", "curewatch", "-n", str(LOG_LINES), "-o", "short-iso", *QUIETLY)
    try:
        said = subprocess.run(  # noqa: S603 - the system's own program, words of ours
            words, capture_output=True, text=True, timeout=LOG_PATIENCE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    if said.returncode != 0 or NO_ENTRIES in said.stdout:
        return ""
    return said.stdout


def pieces_plain(store: Store) -> list[PlainValue]:
    """Return the pieces with what people call them, for a helper who was told."""
    return [
        {"tag": tag, "title": title, "finish": finish, "hung_at": instant(at_ms)}
        for tag, title, finish, at_ms in store.db.rows(
            "SELECT tag, title, finish, at_ms FROM piece ORDER BY number"
        )
    ]
