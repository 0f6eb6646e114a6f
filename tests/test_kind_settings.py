"""Sensors of one kind in the configuration: what each takes over, and what is a fault."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadConfig
from curewatch.intake.families import Family
from curewatch.intake.presence import PresenceMapping
from curewatch.settings import load_settings

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.settings import Settings

HEAD = """\
[site]
timezone = "UTC"
[[room]]
name = "loft"
"""
KIND = """\
[[kind]]
name = "air"
topic = "shop/{id}/climate"
presence = "shop/{id}/presence"
temperature = "/t"
humidity = "/h"
report_every_min = 5
"""
FIRST = '[[sensor]]\nid = "a1"\nroom = "loft"\nkind = "air"\n'
SECOND = (
    '[[sensor]]\nid = "a2"\nroom = "loft"\nkind = "air"\nheard_as = "00:1b"\nhumidity = "/rh"\n'
)


def loaded(folder: Path, text: str) -> Settings:
    (folder / "shop.toml").write_text(text)
    return load_settings(folder / "shop.toml")


def faults(folder: Path, text: str) -> list[str]:
    with pytest.raises(BadConfig) as caught:
        loaded(folder, text)
    return caught.value.faults


def test_each_sensor_takes_over_what_its_kind_says(tmp_path: Path) -> None:
    settings = loaded(tmp_path, HEAD + KIND + FIRST + SECOND)
    first, second = settings.mappings()
    assert (first.topic, first.temperature, first.humidity) == ("shop/a1/climate", "/t", "/h")
    assert (second.topic, second.humidity) == ("shop/00:1b/climate", "/rh")
    assert [sensor.report_every_s for sensor in settings.sensors()] == [300.0, 300.0]
    assert settings.families() == (Family("air", "shop/{id}/climate"),)
    assert settings.presences() == (
        PresenceMapping("a1", "shop/a1/presence"),
        PresenceMapping("a2", "shop/00:1b/presence"),
    )
    assert settings.placed() == (("air", "a1"), ("air", "00:1b"))


def test_who_has_a_topic_of_its_own_has_a_place_too_and_nothing_is_asked_for_twice(
    tmp_path: Path,
) -> None:
    own = '[[sensor]]\nid = "x"\nroom = "loft"\ntopic = "shop/a9/climate"\ntemperature = ""\n'
    settings = loaded(tmp_path, HEAD + KIND + FIRST + own)
    assert settings.placed() == (("air", "a1"), ("air", "a9"))
    assert settings.asked_topics() == ("shop/a1/presence", "shop/+/climate")


def test_names_in_a_pack_are_filled_in_and_heard_for(tmp_path: Path) -> None:
    kind = (
        '[[kind]]\nname = "air"\ntopic = "shop/packs"\nformat = "senml"\n'
        'temperature = "urn:dev:mac:{id}:temp"\nhumidity = "urn:dev:mac:{id}:rh"\n'
    )
    settings = loaded(tmp_path, HEAD + kind + FIRST)
    (mapping,) = settings.mappings()
    assert (mapping.topic, mapping.humidity) == ("shop/packs", "urn:dev:mac:a1:rh")
    (family,) = settings.families()
    assert family.records == ("urn:dev:mac:{id}:temp", "urn:dev:mac:{id}:rh")


def test_a_kind_that_is_not_there_is_a_fault_with_the_nearest(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, HEAD + KIND + FIRST.replace('"air"', '"hair"'))
    assert fault == "sensor[1].kind (a1): there is no kind 'hair'; did you mean 'air'?"


def test_a_fault_of_a_kind_is_told_at_the_kind_alone(tmp_path: Path) -> None:
    text = HEAD + KIND.replace('"/h"', '"h"') + FIRST + SECOND
    (fault,) = faults(tmp_path, text)
    assert fault.startswith("kind[1].humidity (air): 'h' is not a JSON pointer")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (KIND.replace("{id}/climate", "a/climate"), "kind[1].topic (air): nothing tells such"),
        (KIND.replace("{id}/climate", "{id}/{id}"), "kind[1].topic (air): 'shop/{id}/{id}'"),
        (KIND.replace('topic = "shop/{id}/climate"\n', ""), "kind[1].topic (air): is missing; add"),
        (KIND + KIND, "kind[2].name (air): kind[1] has that name already"),
        (
            KIND + '[[sensor]]\nid = "x"\nroom = "loft"\ntopic = "x"\nheard_as = "y"\nmass = ""\n',
            "sensor[1].heard_as (x): is for a sensor of a kind",
        ),
        (
            KIND
            + '[[sensor]]\nid = "x"\nroom = "loft"\ntopic = "x"\nmass = ""\npresence = "a/+"\n',
            "sensor[1].presence (x): 'a/+' is of many",
        ),
    ],
)
def test_what_will_not_do_is_told_with_its_place(tmp_path: Path, text: str, fault: str) -> None:
    assert [found for found in faults(tmp_path, HEAD + text) if found.startswith(fault)]


def test_a_wildcard_that_may_take_several_for_one_is_warned_of(tmp_path: Path) -> None:
    many = '[[sensor]]\nid = "x"\nroom = "loft"\ntopic = "shop/+/t"\ntemperature = ""\n'
    (warning,) = [w for w in loaded(tmp_path, HEAD + many).warnings if "topic" in w]
    assert warning.startswith("sensor[1].topic (x): 'shop/+/t' takes everyone who speaks there")
    assert "[[kind]]" in warning
