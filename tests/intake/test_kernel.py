"""Chips the kernel reads, in a tree of its documented layout."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.intake.kernel import Found, listed, read_once, scan
from curewatch.shop.reading import RejectReason
from tests.intake.sysfs_tree import PROBE, SysfsTree

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def tree(tmp_path: Path) -> SysfsTree:
    """Return an empty tree."""
    return SysfsTree(tmp_path / "sys")


def said(tree: SysfsTree) -> list[tuple[str, str, float | None, str]]:
    return [(one.place, one.quantity, one.value, one.unit) for one in scan(tree.root)]


def only(tree: SysfsTree) -> Found:
    (one,) = scan(tree.root)
    return one


def test_a_tree_that_is_not_there_holds_no_chip(tree: SysfsTree) -> None:
    assert scan(tree.root) == ()


def test_hwmon_says_thousandths_of_degrees_and_percent(tree: SysfsTree) -> None:
    tree.hwmon(0, "airchip", "1-0044", temp1_input=-5_250, humidity1_input=48_900, in1_input=3300)
    assert said(tree) == [
        ("1-0044", "temperature", -5.25, "degC"),
        ("1-0044", "humidity", 48.9, "%"),
    ]


def test_iio_says_pressure_in_kilopascal(tree: SysfsTree) -> None:
    tree.iio(0, "airchip", "1-0076", in_temp_input=21_500, in_pressure_input="101.325000000")
    assert said(tree) == [
        ("1-0076", "temperature", 21.5, "degC"),
        ("1-0076", "pressure", 101.325, "kPa"),
    ]


def test_a_raw_number_takes_its_offset_before_its_scale(tree: SysfsTree) -> None:
    """(raw + offset) * scale, as the kernel's text has it; the other order would say 85.4 degC."""
    tree.iio(
        0,
        "airchip",
        "1-0040",
        in_temp_raw=6_100,
        in_temp_offset=-4_000,
        in_temp_scale="10.000000000",
        in_humidityrelative_raw=500,
        in_humidityrelative_scale="100",
        in_humidityrelative_peak_raw=990,
    )
    assert said(tree) == [
        ("1-0040", "temperature", 21.0, "degC"),
        ("1-0040", "humidity", 50.0, "%"),
    ]


def test_numbered_channels_share_the_scale_of_their_kind_unless_they_have_their_own(
    tree: SysfsTree,
) -> None:
    tree.iio(
        0,
        "airchip",
        "1-0040",
        in_temp0_raw=200,
        in_temp1_raw=200,
        in_temp1_scale=50,
        in_temp_scale=100,
    )
    assert [one.value for one in scan(tree.root)] == [20.0, 10.0]


def test_a_raw_number_without_a_scale_means_nothing(tree: SysfsTree) -> None:
    tree.iio(0, "airchip", "1-0040", in_temp_raw=6_100)
    one = only(tree)
    assert (one.value, one.reason) == (None, RejectReason.MISSING)
    assert "no scale" in str(one.fault)


def test_where_a_chip_gives_both_forms_the_scaled_one_is_read(tree: SysfsTree) -> None:
    tree.iio(0, "airchip", "1-0040", in_temp_raw=6_100, in_temp_input=20_000)
    assert said(tree) == [("1-0040", "temperature", 20.0, "degC")]


@pytest.mark.parametrize("old", [True, False])
def test_a_probe_is_known_by_its_number(tree: SysfsTree, *, old: bool) -> None:
    tree.probe(milli_c=-437, old=old)
    tree.root.joinpath("bus/w1/devices/w1_bus_master1").mkdir()
    assert said(tree) == [(PROBE, "temperature", -0.437, "degC")]


def test_other_one_wire_parts_are_no_probes(tree: SysfsTree) -> None:
    tree.probe("01-0123456789ab")
    assert scan(tree.root) == ()


def test_a_garbled_probe_says_no_temperature_though_one_stands_there(tree: SysfsTree) -> None:
    tree.probe(crc="NO")
    one = only(tree)
    assert (one.value, one.reason) == (None, RejectReason.CHECKSUM)
    assert "pull-up" in str(one.fault)


@pytest.mark.parametrize("old", [True, False])
@pytest.mark.parametrize(
    ("milli_c", "reason"),
    [
        (85_000, RejectReason.POWER_ON_VALUE),
        (127_937, RejectReason.DISCONNECTED_VALUE),
        ("", RejectReason.NOT_A_NUMBER),  # a conversion still under way
        ("nan", RejectReason.NOT_A_NUMBER),
    ],
)
def test_what_a_probe_says_that_is_no_temperature_is_named(
    tree: SysfsTree, milli_c: object, reason: RejectReason, *, old: bool
) -> None:
    tree.probe(milli_c=milli_c, old=old)
    one = only(tree)
    assert (one.value, one.reason) == (None, reason)


def test_85_degrees_of_another_chip_are_left_to_the_gate(tree: SysfsTree) -> None:
    tree.hwmon(0, "airchip", "1-0044", temp1_input=85_000)
    assert only(tree).value == 85.0


def test_a_chip_that_does_not_answer_is_a_named_rejection(tree: SysfsTree) -> None:
    folder = tree.hwmon(0, "airchip", "1-0044", temp1_input=20_000)
    tree.unreadable(folder / "temp1_input")
    one = only(tree)
    assert (one.value, one.reason) == (None, RejectReason.READ_ERROR)
    assert str(one.fault).endswith("temp1_input: Input/output error")


def test_a_scale_that_cannot_be_read_is_not_taken_for_none(tree: SysfsTree) -> None:
    device = tree.iio(0, "airchip", "1-0040", in_temp_raw=1, in_temp_scale=10, in_temp_offset=5)
    tree.unreadable(device / "in_temp_offset")
    assert only(tree).reason is RejectReason.READ_ERROR


def test_a_chip_that_reports_its_sensor_broken_is_believed(tree: SysfsTree) -> None:
    tree.hwmon(0, "airchip", "1-0044", temp1_input=20_000, temp1_fault=1)
    tree.hwmon(1, "airchip", "1-0045", temp1_input=20_000, temp1_fault=0)
    broken, sound = scan(tree.root)
    assert (broken.value, broken.reason) == (None, RejectReason.DISCONNECTED_VALUE)
    assert sound.value == 20.0


def test_a_chip_that_was_taken_away_is_missing_and_is_read_again_once_back(tree: SysfsTree) -> None:
    folder = tree.hwmon(0, "airchip", "1-0044", temp1_input=20_000)
    (one,) = listed(tree.root)
    assert one.value is None
    tree.take_away(folder)
    gone = read_once(one)
    assert (gone.value, gone.reason) == (None, RejectReason.MISSING)
    tree.hwmon(0, "airchip", "1-0044", temp1_input=20_500)
    back = read_once(gone)
    assert (back.value, back.fault, back.reason) == (20.5, None, None)


@pytest.mark.parametrize("name", ["cpu_thermal", "coretemp", "nvme", "k10temp", "acpitz"])
def test_what_measures_the_computer_is_marked(tree: SysfsTree, name: str) -> None:
    tree.hwmon(0, name, temp1_input=55_000)
    tree.hwmon(1, "airchip", "1-0044", temp1_input=20_000)
    assert [one.machine for one in scan(tree.root)] == [True, False]


def test_a_place_stays_the_same_whatever_number_the_kernel_gives(tree: SysfsTree) -> None:
    tree.hwmon(7, "airchip", "1-0044", temp1_input=20_000)
    tree.iio(3, "airchip", "1-0076", in_temp_input=20_000)
    tree.hwmon(8, "airchip", temp1_input=20_000)
    assert [one.place for one in listed(tree.root)] == ["1-0044", "hwmon8", "1-0076"]


def test_a_chip_that_both_interfaces_have_is_listed_once_and_called_by_either(
    tree: SysfsTree,
) -> None:
    tree.hwmon(0, "airchip", "1-0044", temp1_input=21_250, humidity1_input=48_000)
    device = tree.iio(0, "airchip", "1-0044", in_temp_input=21_300, in_pressure_input="101.3")
    found = scan(tree.root)
    assert [(one.path.name, one.value) for one in found] == [
        ("temp1_input", 21.25),
        ("humidity1_input", 48.0),
        ("in_pressure_input", 101.3),
    ]
    for name in ("1-0044", "1-0044/in_temp_input", str(device), f"{device}/in_temp_input"):
        assert found[0].is_called(name)


def test_with_several_channels_nobody_can_tell_which_is_which(tree: SysfsTree) -> None:
    tree.hwmon(0, "airchip", "1-0044", temp1_input=21_250, temp2_input=22_000)
    tree.iio(0, "airchip", "1-0044", in_temp_input=21_300)
    assert len(listed(tree.root)) == 3


def test_a_probe_that_hwmon_has_too_is_listed_as_a_probe(tree: SysfsTree) -> None:
    tree.probe(milli_c=19_062)
    tree.hwmon(0, "w1_slave_temp", PROBE, temp1_input=19_000)
    (one,) = scan(tree.root)
    assert (one.path.name, one.value) == ("w1_slave", 19.062)


def test_one_that_holds_whoever_asks_is_told_and_the_others_are_read(tree: SysfsTree) -> None:
    tree.hwmon(0, "airchip", "1-0044", temp1_input=21_250)
    pipe = tree.hwmon(1, "stuck", "1-0045", temp1_input=0) / "temp1_input"
    pipe.unlink()
    os.mkfifo(pipe)  # reading it waits for as long as nobody writes
    first, second = scan(tree.root, patience_s=0.5, each_s=0.0)
    assert (first.value, second.reason) == (21.25, RejectReason.READ_ERROR)
    assert "does not answer" in str(second.fault)
    pipe.write_text("1\n")  # let it go


def test_what_hands_another_interface_s_numbers_on_is_marked(tree: SysfsTree) -> None:
    tree.hwmon(0, "iio_hwmon", "platform", temp1_input=21_300, humidity1_input=48_000)
    tree.iio(0, "airchip", "1-0044", in_temp_input=21_300)
    assert [one.bridged for one in listed(tree.root)] == [True, False, False]


def test_a_chip_is_called_by_name_place_directory_and_file(tree: SysfsTree) -> None:
    folder = tree.hwmon(0, "airchip", "1-0044", temp1_input=20_000)
    (one,) = listed(tree.root)
    for name in ("airchip", "1-0044", "1-0044/temp1_input", str(folder), f"{folder}/temp1_input"):
        assert one.is_called(name)
    assert not one.is_called("1-0044/temp2_input")
    assert not one.is_called("")


@given(content=st.binary(max_size=300))
def test_any_bytes_give_a_number_or_one_named_rejection(
    content: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    tree = SysfsTree(tmp_path_factory.mktemp("any"))
    tree.hwmon(0, "airchip", "1-0044", temp1_input=0)
    tree.iio(0, "airchip", "1-0040", in_temp_raw=1, in_temp_scale=1)
    tree.probe()
    for name in ("temp1_input", "in_temp_scale", "w1_slave"):
        next(tree.root.rglob(name)).write_bytes(content)
    for one in scan(tree.root):
        assert (one.value is None) == (one.fault is not None) == (one.reason is not None)
        assert one.value is None or one.value == one.value  # no NaN
