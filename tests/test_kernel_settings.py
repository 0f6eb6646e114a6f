"""A chip at this machine in the configuration: what it must say, and what becomes of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from curewatch.errors import BadConfig
from curewatch.intake.polling import Poll
from curewatch.settings import load_settings
from curewatch.shop.reading import Quantity

HEAD = '[site]\ntimezone = "UTC"\n[[room]]\nname = "loft"\n'
SENSOR = '[[sensor]]\nid = "loft-air"\nroom = "loft"\n'
CHIP = f'{HEAD}{SENSOR}kernel = "1-0044"\nreads = ["temperature", "humidity"]\n'


def faults(folder: Path, text: str) -> list[str]:
    """Return every fault of a configuration."""
    (folder / "shop.toml").write_text(text)
    with pytest.raises(BadConfig) as caught:
        load_settings(folder / "shop.toml")
    return caught.value.faults


def test_a_chip_is_asked_every_minute_and_nothing_is_subscribed_for_it(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(CHIP)
    settings = load_settings(tmp_path / "shop.toml")
    both = (Quantity.TEMPERATURE, Quantity.HUMIDITY)
    assert settings.polls() == (Poll("loft-air", "1-0044", both, 60.0),)
    assert settings.mappings() == ()
    assert settings.warnings == ()  # it is the room's climate
    (sensor,) = settings.sensors()
    assert (sensor.report_every_s, sensor.air) == (60.0, True)
    assert settings.kernel.sysfs == Path("/sys")


def test_two_tables_of_a_sensor_share_its_rhythm_and_one_may_be_a_topic(tmp_path: Path) -> None:
    text = f'{CHIP}report_every_min = 5\n{SENSOR}topic = "loft/t"\nsurface_temperature = ""\n'
    (tmp_path / "shop.toml").write_text(f'{text}{SENSOR}kernel = "x"\nreads = ["temperature"]\n')
    settings = load_settings(tmp_path / "shop.toml")
    assert [poll.every_s for poll in settings.polls()] == [300.0, 300.0]
    assert [mapping.topic for mapping in settings.mappings()] == ["loft/t"]
    (warning,) = settings.warnings
    assert "both the temperature of sensor 'loft-air'" in warning


def test_a_tree_elsewhere_starts_where_the_file_lies(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(f'{CHIP}[kernel]\nsysfs = "tree"\n')
    assert load_settings(tmp_path / "shop.toml").kernel.sysfs == tmp_path / "tree"


@pytest.mark.parametrize(
    ("lines", "place", "says"),
    [
        ("", "sensor[1].topic (loft-air)", 'or kernel = "..."'),
        ('kernel = ""', "sensor[1].kernel (loft-air)", "empty"),
        ('kernel = "x"', "sensor[1].reads (loft-air)", 'reads = ["temperature", "humidity"]'),
        ('kernel = "x"\nreads = ["mass"]', "sensor[1].reads[1] (loft-air)", "surface_temperature"),
        (
            'topic = "a"\ntemperature = ""\nreads = ["humidity"]',
            "sensor[1].reads (loft-air)",
            "set sensor[1].kernel too",
        ),
        (
            'kernel = "x"\nreads = ["humidity"]\nhumidity = "/h"',
            "sensor[1].humidity (loft-air)",
            "no message",
        ),
        (
            'kernel = "x"\nreads = ["humidity"]\ntopic = "a"',
            "sensor[1].topic (loft-air)",
            "no message",
        ),
        (
            'kernel = "x"\nreads = ["humidity"]\nreport_every_min = 0.001',
            "sensor[1].report_every_min (loft-air)",
            "warms itself",
        ),
    ],
)
def test_what_does_not_fit_is_told_with_its_place(
    tmp_path: Path, lines: str, place: str, says: str
) -> None:
    (fault,) = faults(tmp_path, f"{HEAD}{SENSOR}{lines}\n")
    assert fault.startswith(f"{place}: ")
    assert says in fault
