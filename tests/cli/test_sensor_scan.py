"""What `sensor scan` lists of a tree, and that what it proposes can be pasted."""

from __future__ import annotations

import re
from socket import socket
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.sensor_scan import proposals
from curewatch.intake.kernel import listed, scan
from curewatch.intake.polling import ask
from curewatch.settings import load_settings
from tests.intake.sysfs_tree import PROBE, SysfsTree

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch

HEAD = '[site]\ntimezone = "UTC"\n[[room]]\nname = "loft"\n\n'


@pytest.fixture
def tree(tmp_path: Path) -> SysfsTree:
    """Return a tree with the computer's own, two chips of one name, one with all, and a probe."""
    made = SysfsTree(tmp_path / "sys")
    made.hwmon(0, "cpu_thermal", temp1_input=58_000)
    made.hwmon(1, "airchip", "1-0044", temp1_input=21_250, humidity1_input=48_000)
    made.hwmon(2, "airchip", "1-0045", temp1_input=21_500, humidity1_input=47_000)
    made.iio(0, "allchip", "1-0076", in_temp_input=22_000, in_pressure_input="101.325")
    made.hwmon(3, "twins", "1-0048", temp1_input=20_000, temp2_input=19_000)
    made.probe(milli_c=19_062)
    return made


def test_json_lists_chip_path_quantity_and_value(curewatch: Curewatch, tree: SysfsTree) -> None:
    tree.unreadable(tree.root / "class/hwmon/hwmon2/temp1_input")
    plain = curewatch("sensor", "scan", "--sysfs", str(tree.root), "--json").plain
    chips = {one["path"]: one for one in plain["chips"]}
    first = chips[f"{tree.root}/class/hwmon/hwmon1/humidity1_input"]
    assert (first["chip"], first["quantity"], first["value"]) == ("airchip", "humidity", 48.0)
    assert (first["unit"], first["fault"], first["machine_itself"]) == ("%", None, False)
    broken = chips[f"{tree.root}/class/hwmon/hwmon2/temp1_input"]
    assert (broken["value"], broken["reason"]) == (None, "read-error")
    assert chips[f"{tree.root}/class/hwmon/hwmon0/temp1_input"]["machine_itself"]
    probe = chips[f"{tree.root}/bus/w1/devices/{PROBE}/w1_slave"]
    assert (probe["chip"], probe["value"]) == (PROBE, 19.062)
    assert len(chips) == 10


def test_people_are_told_what_each_says_and_what_is_the_machine_itself(
    curewatch: Curewatch, tree: SysfsTree
) -> None:
    tree.probe(crc="NO")
    said = curewatch("sensor", "scan", "--sysfs", str(tree.root))
    assert "1-0044/humidity1_input humidity 48.00 %" in said.flat
    assert "101.33 kPa" in said.flat
    assert "The machine itself, of no use for a room: cpu_thermal 58.00 degC." in said.flat
    assert "nothing: checksum" in said.flat
    assert "pull-up" in said.flat
    assert "dtoverlay=w1-gpio" in said.out
    assert "from memory" in said.flat
    assert said.out.index("dtoverlay") < said.out.index("[[sensor]]")  # the next step comes last
    assert 'kernel = "28-' not in said.out  # nothing garbled is proposed


def test_every_proposed_line_can_be_pasted_and_reads_one_chip(
    curewatch: Curewatch, tree: SysfsTree, tmp_path: Path
) -> None:
    said = curewatch("sensor", "scan", "--sysfs", str(tree.root))
    tables = re.findall(r"^\[\[sensor\]\]\n(?:[a-z]+ = .*\n)+", said.out, re.MULTILINE)
    (tmp_path / "pasted.toml").write_text(HEAD + "\n".join(tables).replace("ROOM", "loft"))
    settings = load_settings(tmp_path / "pasted.toml")
    chips = listed(tree.root)
    read = {
        (poll.sensor, quantity.word): ask(poll, quantity, chips).value
        for poll in settings.polls()
        for quantity in poll.reads
    }
    assert read == {
        ("airchip", "temperature"): 21.25,
        ("airchip", "humidity"): 48.0,
        ("airchip-2", "temperature"): 21.5,
        ("airchip-2", "humidity"): 47.0,
        ("allchip", "temperature"): 22.0,
        ("twins", "temperature"): 20.0,
        ("twins-2", "temperature"): 19.0,
        (PROBE, "temperature"): 19.062,
    }


def test_a_chip_that_does_not_answer_in_part_is_proposed_for_the_rest(tree: SysfsTree) -> None:
    tree.unreadable(tree.root / "class/hwmon/hwmon1/humidity1_input")
    (table,) = [text for text in proposals(scan(tree.root)) if '"1-0044"' in text]
    assert 'reads = ["temperature"]' in table


def test_a_machine_without_chips_is_told_how_the_kernel_learns_of_one(
    curewatch: Curewatch, tmp_path: Path
) -> None:
    (tmp_path / "sys").mkdir()
    said = curewatch("sensor", "scan", "--sysfs", str(tmp_path / "sys"))
    assert "lists no chip for a room's air" in said.flat
    assert "dtoverlay=i2c-sensor,CHIP" in said.out
    assert "[[sensor]]" not in said.out
    assert said.narrow()


def test_a_tree_that_is_not_there_is_an_error(curewatch: Curewatch, tmp_path: Path) -> None:
    said = curewatch("sensor", "scan", "--sysfs", str(tmp_path / "nowhere"), status=None)
    assert said.status != 0
    assert "there is no such directory" in said.complaint


def test_the_listing_fits_a_plain_terminal(curewatch: Curewatch, tree: SysfsTree) -> None:
    assert curewatch("sensor", "scan", "--sysfs", str(tree.root)).narrow()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--listen", "-1"), "give seconds"),
        (("--listen", "nan"), "give seconds"),
        (("--listen", "1e9"), "a day, at most"),
        (("--listen", "1", "--topic", "a/#/b"), "--topic"),
    ],
)
def test_what_cannot_be_listened_to_is_refused(
    curewatch: Curewatch, more: tuple[str, ...], words: str
) -> None:
    said = curewatch("sensor", "scan", *more, status=2)
    assert words in said.err


def test_without_listening_no_broker_is_asked(curewatch: Curewatch, tree: SysfsTree) -> None:
    for more in (("--sysfs", str(tree.root)), ("--listen", "0")):
        answer = curewatch("sensor", "scan", *more, "--json").plain
        assert answer["broker"] is None
        assert answer["not_asked"] is None


def test_where_no_broker_answers_the_command_to_look_is_named(
    curewatch: Curewatch, tree: SysfsTree, monkeypatch: pytest.MonkeyPatch
) -> None:
    with socket() as taken:  # bound and not listening: whoever connects is refused
        taken.bind(("127.0.0.1", 0))
        monkeypatch.setenv("CUREWATCH_BROKER__HOST", "127.0.0.1")
        monkeypatch.setenv("CUREWATCH_BROKER__PORT", str(taken.getsockname()[1]))
        said = curewatch("sensor", "scan", "--sysfs", str(tree.root), "--listen", "1")
    assert "nothing listens there" in said.flat
    assert "systemctl status mosquitto; see the [broker] table" in said.flat


def test_a_chip_that_is_seen_twice_is_proposed_once(curewatch: Curewatch, tree: SysfsTree) -> None:
    tree.iio(1, "airchip", "1-0044", in_temp_input=21_300)
    tree.hwmon(4, "iio_hwmon", "platform", temp1_input=21_300)
    said = curewatch("sensor", "scan", "--sysfs", str(tree.root))
    assert said.out.count('kernel = "1-0044"') == 1
    assert "the kernel has it as in_temp_input too; it is one chip." in said.flat
    assert "handed on from another of the kernel's interfaces" in said.flat
    assert 'kernel = "platform' not in said.out
