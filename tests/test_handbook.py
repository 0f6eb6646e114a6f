"""The handbook is tried: its commands run, its snippets load, its links lead somewhere.

Every fenced block of a page is taken in order, in a shop of the page's own. What is shown as an
answer is compared word by word; '...' stands for what is left out.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import tomllib
from io import StringIO
from typing import TYPE_CHECKING

import pytest

from curewatch.finish_files import load_text
from curewatch.settings import load_settings
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for
from tests.handbook_shop import (
    HANDBOOK,
    ROOT,
    Block,
    HandbookShop,
    blocks,
    configuration,
    handbook_shop,
    is_of_the_system,
)
from tests.outbound.conftest import Endpoint

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PAGES = sorted(HANDBOOK.glob("*.md"))
CHECKED = [
    ROOT / "README.md",
    *sorted((ROOT / "docs").rglob("*.md")),
    *sorted((ROOT / "deploy").glob("*.md")),
]
KINDS = {"sh", "toml", "text"}
AROUND = {  # what a snippet leaves out, and needs
    "site": '[site]\nname = "x"\ntimezone = "UTC"\n',
    "room": '[[room]]\nname = "loft"\n',
}
LINK = re.compile(r"\]\(([^)\s]+)\)")  # of pictures too
FENCED_OR_CODE = re.compile(r"^```.*?^```$|`[^`\n]+`", re.MULTILINE | re.DOTALL)


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    """Run a broker that knows the users the handbook names."""
    users = {"curewatch": "invented", "sensors": "PASSWORD"}
    with Mosquitto(tmp_path_factory.mktemp("broker"), users=users) as running:
        yield running


@pytest.fixture(scope="module")
def endpoint() -> Iterator[Endpoint]:
    """Run a target for notices."""
    running = Endpoint()
    running.up()
    yield running
    running.over.set()
    running.down()


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the handbook's shop once; return its folder."""
    return handbook_shop(tmp_path_factory.mktemp("built")).folder


@pytest.fixture
def shop(
    built: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    broker: Mosquitto,
    endpoint: Endpoint,
) -> HandbookShop:
    """Return a copy of the handbook's shop, with a broker and a target for notices."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CUREWATCH_BROKER__HOST", "127.0.0.1")
    monkeypatch.setenv("CUREWATCH_BROKER__PORT", str(broker.port))
    monkeypatch.delenv("CUREWATCH_CONFIG", raising=False)
    monkeypatch.delenv("COLUMNS", raising=False)
    shutil.copytree(built, tmp_path, dirs_exist_ok=True)
    (tmp_path / "notify-urls").write_text(f"{endpoint.url}\n", encoding="utf-8")
    return HandbookShop(tmp_path)


def carried_out(shop: HandbookShop, line: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Run a line of a page; it must end well. Return what it said."""
    with monkeypatch.context() as patched:
        if line == "curewatch page passphrase":  # which asks on a terminal
            line += " --stdin"
            patched.setattr("sys.stdin", StringIO("oak and linseed\n"))
        if shlex.split(line)[:2] == ["curewatch", "doctor"]:
            patched.setenv("CUREWATCH_CLOCK__SOURCE", "system")  # a living shop's
        status, said = shop.run(line)
    assert status == 0, f"{line}\nexit status {status}\n{said}"
    return said


def as_shown(shown: str, said: str) -> bool:
    """Whether an answer is what a page shows: word by word, '...' for what is left out."""
    parts = [" ".join(part.split()) for part in shown.split("...")]
    pattern = ".*".join(re.escape(part) for part in parts)
    return re.fullmatch(rf"\s*{pattern}\s*", " ".join(said.split())) is not None


def finish_kept(shop: HandbookShop, block: Block) -> None:
    """Put a profile into the shop's folder of finishes, as the page says."""
    name = tomllib.loads(block.text)["name"]
    (shop.folder / "finishes" / f"{name}.toml").write_text(block.text, encoding="utf-8")


@pytest.mark.broker
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_command_of_a_page_runs_and_answers_as_shown(
    shop: HandbookShop, monkeypatch: pytest.MonkeyPatch, page: Path
) -> None:
    said = ""
    for block in blocks(page):
        if block.kind == "toml" and "extends" in tomllib.loads(block.text):
            finish_kept(shop, block)
        if block.kind == "text":
            assert as_shown(block.text, said), f"{block.text}\n--- it says ---\n{said}"
        if block.kind != "sh":
            continue
        for line in block.commands():
            if is_of_the_system(line):
                continue
            said = carried_out(shop, line, monkeypatch)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_fenced_block_is_of_a_kind_that_is_tried(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert {block.kind for block in blocks(page)} <= KINDS
    assert text.count("\n```") == 2 * len(blocks(page))


def test_a_script_of_ours_that_is_shown_is_there_and_knows_its_options() -> None:
    shown = [
        line.removeprefix("sudo ").split()
        for page in PAGES
        for block in blocks(page)
        if block.kind == "sh"
        for line in block.commands()
        if "deploy/" in line
    ]
    assert shown
    for script, *options in shown:
        text = (ROOT / script).read_text("utf-8")
        assert all(option in text for option in options)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_snippet_of_a_page_loads(page: Path, tmp_path: Path) -> None:
    for block in blocks(page):
        if block.kind != "toml":
            continue
        given = tomllib.loads(block.text)
        if "extends" in given:
            assert load_text(block.text, source=given["name"]).name == given["name"]
            continue
        whole = block.text
        if block.text != configuration():
            whole += "".join(text for key, text in AROUND.items() if key not in given)
        (tmp_path / "finishes").mkdir(exist_ok=True)
        for name in ("broker-password", "notify-urls"):
            (tmp_path / name).write_text("json://127.0.0.1:9/x\n")
            (tmp_path / name).chmod(0o640)
        path = tmp_path / "curewatch.toml"
        path.write_text(whole, encoding="utf-8")
        settings = load_settings(path)
        if block.text == configuration():
            assert settings.warnings == ()


@pytest.mark.broker
@pytest.mark.crash
def test_the_first_day_ends_with_a_reading_and_a_notice(
    tmp_path: Path, shop: HandbookShop, broker: Mosquitto, endpoint: Endpoint
) -> None:
    (played,) = [
        shlex.split(line)
        for block in blocks(HANDBOOK / "first-day.md")
        if block.kind == "sh"
        for line in block.commands()
        if line.startswith("mosquitto_pub")
    ]
    config = tmp_path / "day.toml"
    text = configuration().replace("/var/lib/curewatch/curewatch.db", "day.db")
    text = text.replace('host = "0.0.0.0"', 'host = "127.0.0.1"\nport = 0')  # any that is free
    config.write_text(text, encoding="utf-8")
    day = HandbookShop(tmp_path)
    with DaemonProcess(config) as daemon:
        send(played, broker)
        wait_for(lambda: "21.4 °C, 47 %" in listed(day, config), "a reading", daemon.log)
        before = len(endpoint.got)
        status, said = day.run(f"curewatch --config {config} doctor --send-test")
        assert (status, "took a test notice" in said) == (0, True), said
        assert len(endpoint.got) == before + 1
    assert shop.folder == day.folder


def send(words: list[str], broker: Mosquitto) -> None:
    """Run the page's own line, at the test's broker."""
    where = ["-h", "127.0.0.1", "-p", str(broker.port)]
    subprocess.run([words[0], *where, *words[1:]], check=True, capture_output=True)


def listed(day: HandbookShop, config: Path) -> str:
    """Return what is said of the sensors, on one line."""
    _, said = day.run(f"curewatch --config {config} sensor list")
    return " ".join(said.split())


# ---- links


def anchors(page: Path) -> set[str]:
    """Return the anchors of a page's headings, as a browser of Markdown makes them."""
    text = re.sub(r"^```.*?^```$", "", page.read_text("utf-8"), flags=re.MULTILINE | re.DOTALL)
    found: set[str] = set()
    for heading in re.findall(r"^#+ (.+)$", text, re.MULTILINE):
        plain = re.sub(r"[^\w\- ]", "", heading.strip().lower())
        found.add(plain.replace(" ", "-"))
    return found


def broken(page: Path) -> list[str]:
    """Return the links of a page that lead nowhere in this project."""
    wrong = []
    text = FENCED_OR_CODE.sub("", page.read_text("utf-8"))
    for link in LINK.findall(text):
        if re.match(r"[a-z]+:", link):
            continue
        path, _, anchor = link.partition("#")
        target = (page.parent / path).resolve() if path else page
        readable = target / "README.md" if target.is_dir() else target
        if not target.exists() or (anchor and anchor not in anchors(readable)):
            wrong.append(link)
    return wrong


@pytest.mark.parametrize("page", CHECKED, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_to_a_page_and_a_heading_that_are_there(page: Path) -> None:
    assert broken(page) == []


def test_a_link_that_leads_nowhere_is_found(tmp_path: Path) -> None:
    (tmp_path / "there.md").write_text("# A heading, here\n\n```sh\n# no heading\n```\n")
    page = tmp_path / "page.md"
    page.write_text(
        "[a](there.md#a-heading-here) [b](there.md#no-heading) [c](away.md) [d](https://x.example)\n"
        "[![e](gone.png)](there.md) [f](#nothing)\n"
    )
    assert broken(page) == ["there.md#no-heading", "away.md", "gone.png", "#nothing"]


def test_every_page_of_the_handbook_is_reached_from_its_index_and_that_from_the_readme() -> None:
    index = (HANDBOOK / "README.md").read_text("utf-8")
    for page in PAGES:
        assert page.name == "README.md" or f"]({page.name})" in index
    assert "docs/handbook/" in (ROOT / "README.md").read_text("utf-8")


def test_every_page_of_the_docs_is_in_their_index() -> None:
    index = (ROOT / "docs" / "README.md").read_text("utf-8")
    for page in (ROOT / "docs").glob("*.md"):
        assert page.name == "README.md" or f"]({page.name})" in index, page.name


# ---- how it reads


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_a_page_reads_on_a_telephone(page: Path) -> None:
    text = re.sub(r"^```.*?^```$", "", page.read_text("utf-8"), flags=re.MULTILINE | re.DOTALL)
    prose = " ".join(line for line in text.splitlines() if not line.startswith(("|", "#", "- [")))
    sentences = re.split(r"(?<=[.:;?!·])\s+", prose)
    lengths = [len(sentence.split()) for sentence in sentences if sentence]
    assert sum(lengths) / len(lengths) < 14
    assert max(lengths) <= 45


def test_the_safety_page_names_each_hazard_and_defers() -> None:
    text = (HANDBOOK / "safety.md").read_text("utf-8").lower()
    for word in ("isocyanates", "vapour", "heaters", "oily rags", "buffing wheels", "spray zone"):
        assert word in text
    assert "label, the safety data sheet" in text
    assert "local code" in text


def test_what_is_shown_is_compared_word_by_word() -> None:
    assert as_shown("One two\nthree\n...\nfive", "One  two three\nfour five")
    assert not as_shown("One three\n...\nfive", "One two three four five")
    assert not as_shown("One two", "One two three")
