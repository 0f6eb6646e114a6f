"""Finish profiles: listed, shown with every number's standing, begun anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.finish_files import shipped_names
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch

TRIED = {"waterborne", "nitro-lacquer", "two-part-urethane"}


def squeezed(text: str) -> str:
    """Return a text without its white space: lines also break at hyphens."""
    return "".join(text.split())


def test_list_tells_which_are_tried_and_whose_they_are(
    curewatch: Curewatch, shop_config: Path
) -> None:
    curewatch("finish", "new", "shop-clear", "--extends", "waterborne", "--write")
    said = curewatch("finish", "list")
    assert said.narrow()
    rows = curewatch("finish", "list", "--json").plain["finishes"]
    assert {row["finish"] for row in rows} == {*shipped_names(), "shop-clear"}
    assert {row["finish"] for row in rows if row["tried"]} == TRIED
    assert [row["finish"] for row in rows if row["own"]] == ["shop-clear"]
    assert (shop_config.parent / "finishes" / "shop-clear.toml").exists()


def test_one_faulty_file_does_not_hide_the_others(curewatch: Curewatch, shop_config: Path) -> None:
    bad = shop_config.parent / "finishes" / "bad.toml"
    bad.write_text('name = "bad"\nextends = "waterborn"\n', encoding="utf-8")
    said = curewatch("finish", "list")
    assert "cannot be used" in said.flat
    assert said.narrow()
    rows = {row["finish"]: row for row in curewatch("finish", "list", "--json").plain["finishes"]}
    assert "waterborne" in rows
    assert "there is no finish 'waterborn'" in rows["bad"]["faults"]


@pytest.mark.parametrize("name", shipped_names())
def test_show_tells_every_number_with_unit_standing_and_source(
    curewatch: Curewatch, name: str
) -> None:
    said = curewatch("finish", "show", name)
    assert said.narrow()
    plain = curewatch("finish", "show", name, "--json").plain
    told = squeezed(said.out)
    assert plain["figures"]
    for figure in plain["figures"]:
        assert figure["standing"] in list(Standing)
        assert figure["source"]
        assert f"{figure['key']}: {figure['value']:g}" in said.flat
        assert squeezed(figure["source"]) in told
    assert squeezed(plain["missed_window"]) in told
    for sentence in plain["safety"]:
        assert squeezed(sentence) in told
    assert ("Nobody has tried this profile whole" in said.flat) is (name not in TRIED)


def test_show_needs_no_database(curewatch: Curewatch, shop_config: Path) -> None:
    (shop_config.parent / "shop.db").unlink()
    assert "Nitrocellulose lacquer" in curewatch("finish", "show", "nitro-lacquer").flat


def test_an_older_revision_is_shown_as_it_was_kept(curewatch: Curewatch, shop_config: Path) -> None:
    curewatch("finish", "new", "shop-clear", "--extends", "waterborne", "--write")
    curewatch("piece", "hang", "A1", "--finish", "shop-clear")
    own = shop_config.parent / "finishes" / "shop-clear.toml"
    own.write_text('name = "shop-clear"\ntitle = "New name"\nextends = "waterborne"\n')
    assert "New name" in curewatch("finish", "show", "shop-clear").flat
    assert "New name" not in curewatch("finish", "show", "shop-clear", "--revision", "1").flat
    complaint = curewatch("finish", "show", "shop-clear", "--revision", "7", status=2).complaint
    assert "no revision 7" in complaint


def test_an_unknown_finish_is_met_with_the_nearest(curewatch: Curewatch) -> None:
    assert "did you mean shellac" in curewatch("finish", "show", "shelac", status=2).complaint


def test_a_printed_template_can_be_used_as_it_is(curewatch: Curewatch, shop_config: Path) -> None:
    text = curewatch("finish", "new", "shop-clear", "--extends", "shellac").out
    own = shop_config.parent / "finishes" / "shop-clear.toml"
    assert not own.exists()
    own.write_text(text, encoding="utf-8")
    plain = curewatch("finish", "show", "shop-clear", "--json").plain
    base = curewatch("finish", "show", "shellac", "--json").plain
    assert plain["figures"] == base["figures"]


def test_a_written_template_never_overwrites(curewatch: Curewatch, shop_config: Path) -> None:
    new = ("finish", "new", "shop-clear", "--extends", "shellac", "--write")
    plain = curewatch(*new, "--json").plain
    own = shop_config.parent / "finishes" / "shop-clear.toml"
    assert plain["path"] == str(own)
    own.write_text(own.read_text("utf-8") + "# mine\n", encoding="utf-8")
    curewatch(*new, status=2)
    assert own.read_text("utf-8").endswith("# mine\n")


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("shellac", "--extends", "waterborne"), "cannot be called"),
        (("Shop Clear", "--extends", "waterborne"), "cannot be called"),
        (("shop-clear", "--extends", "varnish"), "there is no finish 'varnish'"),
    ],
)
def test_what_cannot_be_begun_is_refused(
    curewatch: Curewatch, words: tuple[str, ...], complaint: str
) -> None:
    assert complaint in curewatch("finish", "new", *words, status=2).complaint


def test_without_a_place_for_profiles_writing_says_so(
    curewatch: Curewatch, shop_config: Path
) -> None:
    text = shop_config.read_text("utf-8").replace('directory = "finishes"', "")
    shop_config.write_text(text, encoding="utf-8")
    words = ("finish", "new", "shop-clear", "--extends", "shellac", "--write")
    assert "set [finishes] directory" in curewatch(*words, status=2).complaint
