"""Finish files: every shipped figure accounted for, every fault named, nothing else ever raised."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.errors import BadConfig, BadInput
from curewatch.finish_files import (
    describe,
    load_text,
    read_directory,
    resolved_text,
    shipped_names,
    shipped_text,
    template,
)
from curewatch.finishes.keys import FIGURES, IDLE, NEEDED, ORDERS, TEXTS
from curewatch.science.evaporation import (
    SolventDrying,
    WaterDrying,
    drying_rate_solvent,
    reference_rate_g_m2_h,
)
from curewatch.science.kinetics import CureLaw, rate
from curewatch.science.wet_surface import wet_film
from curewatch.shop.finish import DryingLaw, MilestoneName
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish

NAMES = (
    "acid-cure",
    "acrylic-lacquer",
    "dose-cured",
    "nitro-lacquer",
    "oil-varnish",
    "shellac",
    "two-part-urethane",
    "waterborne",
    "waterborne-crosslinked",
)
CLOCKED = tuple(name for name in NAMES if name != "dose-cured")
OWN = """
name = "maple-top-clear"
title = "Maple top clear (invented)"
extends = "waterborne"
"""


def shipped(name: str) -> Finish:
    return load_text(shipped_text(name), source=name)


def own(text: str = "", *, head: str = "") -> Finish:
    return load_text(head + OWN + text, source="maple-top-clear.toml")


def faults_of(text: str, shelf: dict[str, str] | None = None) -> list[str]:
    with pytest.raises(BadConfig) as caught:
        load_text(text, source="some.toml", shelf=shelf)
    assert caught.value.source == "some.toml"
    return caught.value.faults


def figure(path: str, **fields: str) -> str:
    """One figure's table as TOML; `fields` hold TOML text and override."""
    table = {"value": "1", "standing": '"data-sheet"', "source": '"the sheet of May"'} | fields
    return f"\n[{path}]\n" + "".join(f"{k} = {v}\n" for k, v in table.items() if v)


# --- the shelf ----------------------------------------------------------------------------------


def test_the_shelf_holds_the_nine_families() -> None:
    assert shipped_names() == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_shipped_profile_is_called_as_its_file_is(name: str) -> None:
    assert shipped(name).name == name


@pytest.mark.parametrize("name", NAMES)
def test_every_shipped_figure_says_where_it_comes_from(name: str) -> None:
    openings = {
        Standing.COMMON_PRACTICE: r"common practice, (no source|which ISO 8502-4 [a-z ]+): .{10}",
        Standing.FROM_MEMORY: r"from memory: .{10}",
        Standing.PHYSICS: r"physics: .{10}",
    }
    for row in describe(shipped(name)):
        assert row.standing in openings, f"{row.key}: generic profiles have no sheet of their own"
        assert re.match(openings[row.standing], row.source), row.key


@pytest.mark.parametrize("name", NAMES)
def test_every_number_in_a_shipped_file_is_a_figure_with_a_standing(name: str) -> None:
    def numbers(table: dict[str, object]) -> int:
        return sum(
            numbers(found)
            if isinstance(found, dict)
            else isinstance(found, int | float) and not isinstance(found, bool)
            for found in table.values()
        )

    rows = describe(shipped(name))
    told = sum(1 + 2 * (row.low is not None) for row in rows)
    assert numbers(tomllib.loads(shipped_text(name))) == told


def opens_h(finish: Finish) -> float:
    """Hours at 21 degC, 50 % RH and still air before the usual coat takes the next."""
    if MilestoneName.RECOAT_OPENS in finish.requirements:
        return finish.requirements[MilestoneName.RECOAT_OPENS].hours.value
    load, share = finish.drying.water_load_g_m2, finish.drying.water_fraction_to_leave
    assert load is not None
    assert share is not None
    return load.value * share.value / reference_rate_g_m2_h(WaterDrying())


@pytest.mark.parametrize("name", CLOCKED)
def test_a_recoat_window_opens_before_it_closes(name: str) -> None:
    finish = shipped(name)
    closes = finish.requirements.get(MilestoneName.RECOAT_CLOSES)
    if closes is None:
        # only families that melt into the last coat, or are always scuffed, have no closing
        assert name in {"nitro-lacquer", "acrylic-lacquer", "shellac", "oil-varnish"}
    else:
        assert opens_h(finish) < closes.hours.value


def test_a_heavy_waterborne_coat_opens_after_about_an_hour() -> None:
    # common practice, no source: 45 to 75 min at 21 degC and 50 % RH in still air
    assert 0.75 <= opens_h(shipped("waterborne")) <= 1.25


@pytest.mark.parametrize("name", NAMES)
def test_a_limit_that_closes_takes_the_early_end(name: str) -> None:
    ends_early = {"hours.recoat-closes", "pot_life_h"}
    for row in describe(shipped(name)):
        assert row.key not in ends_early or row.value == row.low


@pytest.mark.parametrize("name", CLOCKED)
def test_the_order_of_the_work_holds_for_one_coat_and_for_eight(name: str) -> None:
    finish = shipped(name)
    for coats in (1, 8):
        hours = [
            need.hours.value * (coats if need.per_coat else 1)
            for milestone, need in finish.requirements.items()
            if milestone not in {MilestoneName.RECOAT_OPENS, MilestoneName.RECOAT_CLOSES}
        ]
        if coats == 1 and name == "waterborne":
            hours.remove(24.0)  # a day a coat is less than the levelling rule for one coat
        assert hours == sorted(hours)


def test_no_recoat_opens_inside_a_forbidden_middle() -> None:
    for name in CLOCKED:
        finish = shipped(name)
        if finish.middle is not None:
            inside = finish.middle.start_h.value <= opens_h(finish) < finish.middle.stop_h.value
            assert not inside, name


def test_the_families_with_a_forbidden_middle_have_it_and_no_other() -> None:
    assert [n for n in NAMES if shipped(n).middle] == ["acid-cure", "oil-varnish"]


def test_waterborne_keeps_the_trades_own_rules() -> None:
    finish = shipped("waterborne")
    buff = finish.requirements[MilestoneName.BUFF]
    wet_sand = finish.requirements[MilestoneName.WET_SAND].hours
    assert (buff.hours.value, buff.per_coat) == (24.0, True)
    assert (wet_sand.value, wet_sand.low, wet_sand.high) == (60.0, 60.0, 336.0)


def test_the_wet_film_forms_at_the_coldest_room_a_waterborne_may_be_sprayed_in() -> None:
    for name in ("waterborne", "waterborne-crosslinked"):
        limits = shipped(name).limits
        assert limits.film_forming_c is not None
        film = wet_film(limits.temp_low_c.value, 0.5, air_speed_m_s=0.15)
        assert float(film.temp_c) > limits.film_forming_c.value


@pytest.mark.parametrize("name", CLOCKED)
def test_a_generic_activation_energy_is_wide(name: str) -> None:
    cure = shipped(name).cure
    assert cure is not None
    assert cure.ea_kj_mol.standard_error > 0.15 * cure.ea_kj_mol.value


def test_humidity_has_a_hand_in_the_cure_of_waterbornes_alone() -> None:
    for name in CLOCKED:
        cure = shipped(name).cure
        assert cure is not None
        assert cure.humidity_exponent.value == (0.3 if name.startswith("waterborne") else 0.0)


def test_a_dose_cured_finish_has_no_clock_and_says_so() -> None:
    finish = shipped("dose-cured")
    assert finish.drying.law is DryingLaw.NONE
    assert finish.cure is None
    assert finish.requirements == {}
    assert "unknown" in finish.summary


@pytest.mark.parametrize("name", NAMES)
def test_every_profile_carries_the_common_cautions(name: str) -> None:
    safety = " ".join(shipped(name).safety)
    for said in ("switches nothing", "no gas detector", "permission to enter a booth", "dust"):
        assert said in safety
    for said in ("wheel", "Sensors, batteries", "safety data sheet", "local code"):
        assert said in safety


@pytest.mark.parametrize("name", NAMES)
def test_every_caution_defers_to_the_papers_that_rule(name: str) -> None:
    ruling = re.compile(r"label|safety data sheet|local (code|rules|fire code)|manual|booth\.$")
    for sentence in shipped(name).safety:
        assert ruling.search(sentence), sentence


@pytest.mark.parametrize(
    ("name", "hazard"),
    [
        ("two-part-urethane", "Isocyanates"),
        ("waterborne-crosslinked", "Isocyanates"),
        ("nitro-lacquer", "burn fiercely"),
        ("acid-cure", "formaldehyde"),
        ("oil-varnish", "Rags"),
        ("dose-cured", "peroxide"),
        ("shellac", "ignites"),
        ("acrylic-lacquer", "ignites"),
        ("waterborne", "ventilate"),
    ],
)
def test_a_family_names_its_own_hazard(name: str, hazard: str) -> None:
    assert any(hazard in sentence for sentence in shipped(name).safety)


def test_the_same_caution_reads_the_same_everywhere() -> None:
    for opening in ("curewatch advises", "The label", "Solvent vapour is", "Sensors,", "Wood dust"):
        said = {s for n in NAMES for s in shipped(n).safety if s.startswith(opening)}
        assert len(said) == 1, opening


def test_an_unknown_shipped_name_offers_the_nearest() -> None:
    with pytest.raises(BadInput, match="did you mean nitro-lacquer"):
        shipped_text("nitro-laquer")


# --- settled text -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_settled_text_reads_back_equal_and_settles_no_further(name: str) -> None:
    text = resolved_text(shipped_text(name), source=name)
    assert load_text(text, source=name) == shipped(name)
    assert resolved_text(text, source=name) == text


def test_settled_text_stands_without_the_finish_it_extended() -> None:
    text = resolved_text(OWN + figure("young_h", value="30"), source="own")
    assert "extends" not in tomllib.loads(text)
    assert load_text(text, source="kept") == own(figure("young_h", value="30"))


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1).filter(str.strip))
@settings(max_examples=150, deadline=None)
def test_any_words_survive_settling(words: str) -> None:
    quoted = '"' + "".join(f"\\U{ord(letter):08x}" for letter in words) + '"'
    text = OWN.replace('"Maple top clear (invented)"', quoted)
    finish = load_text(text, source="own")
    assert finish.title == words.strip()
    assert load_text(resolved_text(text, source="own"), source="own") == finish


@given(st.floats(0.01, 20_000), st.floats(0, 1), st.floats(0, 1))
@settings(max_examples=150, deadline=None)
def test_any_number_survives_settling(value: float, below: float, above: float) -> None:
    low, high = max(value * below, 0.01), min(value * (1 + above), 20_000.0)
    text = OWN + figure("young_h", value=repr(value), low=repr(low), high=repr(high))
    again = load_text(resolved_text(text, source="own"), source="own")
    assert again.young_h is not None
    assert (again.young_h.value, again.young_h.low, again.young_h.high) == (value, low, high)


# --- a shop's own -------------------------------------------------------------------------------


def test_an_own_finish_inherits_all_it_does_not_say() -> None:
    mine, base = own(), shipped("waterborne")
    assert mine.name == "maple-top-clear"
    assert (mine.drying, mine.cure, mine.requirements) == (
        base.drying,
        base.cure,
        base.requirements,
    )


def test_a_product_nobody_has_tried_does_not_inherit_tried() -> None:
    assert shipped("waterborne").tried
    assert not own().tried
    assert own(head="tried = true\n").tried


def test_a_figure_of_its_own_replaces_the_inherited_one_whole() -> None:
    mine = own(figure("hours.recoat-closes", value="36")).requirements
    closes = mine[MilestoneName.RECOAT_CLOSES].hours
    assert (closes.value, closes.low, closes.standing) == (36.0, None, Standing.DATA_SHEET)
    assert MilestoneName.BUFF in mine


def test_hours_of_its_own_take_the_place_of_the_inherited_water_load() -> None:
    mine = own(figure("hours.recoat-opens", value="2"))
    assert mine.drying.water_load_g_m2 is None
    assert opens_h(mine) == 2.0


def test_a_water_load_of_its_own_takes_the_place_of_inherited_hours() -> None:
    load = figure("drying.water_load_g_m2", value="70")
    share = figure("drying.water_fraction_to_leave", value="0.8")
    text = OWN.replace('"waterborne"', '"waterborne-crosslinked"') + load + share
    mine = load_text(text, source="own")
    assert MilestoneName.RECOAT_OPENS not in mine.requirements
    assert mine.drying.water_load_g_m2 is not None


def test_what_a_sheet_denies_can_be_left_out() -> None:
    mine = own(head='without = ["hours.recoat-closes", "young_h"]\n')
    assert MilestoneName.RECOAT_CLOSES not in mine.requirements
    assert mine.young_h is None


def test_own_cautions_add_to_the_inherited_ones() -> None:
    base = shipped("waterborne").safety
    mine = own(head=f'safety = ["Strain it; the sheet says so.", "{base[0]}"]\n')
    assert mine.safety == (*base, "Strain it; the sheet says so.")


def test_an_own_finish_may_extend_another_of_the_shop() -> None:
    shelf = {"maple-top-clear": OWN + figure("young_h", value="30")}
    text = 'name = "satin"\ntitle = "Satin (invented)"\nextends = "maple-top-clear"\n'
    mine = load_text(text, source="satin", shelf=shelf)
    assert mine.young_h is not None
    assert mine.young_h.value == 30.0


def test_moisture_cured_finishes_may_have_a_negative_humidity_exponent() -> None:
    cure = own(figure("cure.humidity_exponent", value="-1.5")).cure
    assert cure is not None
    assert cure.humidity_exponent.value == -1.5


def test_a_data_sheet_alone_may_go_below_the_dew_point_rule() -> None:
    mine = own(figure("limits.surface_dew_stop_k", value="2.5"))
    assert mine.limits.surface_dew_stop_k.value == 2.5
    text = OWN + figure("limits.surface_dew_stop_k", value="2.5", standing='"from-memory"')
    assert "under the 3 K rule" in faults_of(text)[0]


def test_storage_counts_the_revision() -> None:
    assert load_text(OWN, source="own", revision=7).revision == 7


@pytest.mark.parametrize("base", NAMES)
def test_a_template_loads_as_it_is(base: str) -> None:
    text = template("cabinet-clear", base)
    mine = load_text(text, source="cabinet-clear")
    assert mine.requirements == shipped(base).requirements
    assert mine.safety == shipped(base).safety


@pytest.mark.parametrize("base", NAMES)
def test_a_template_uncommented_means_the_same(base: str) -> None:
    lines = template("cabinet-clear", base).splitlines()
    kept = [
        line.removeprefix("# ") if re.match(r"# (\[[a-z0-9_.-]+\]$|[a-z_]+ = )", line) else line
        for line in lines
    ]
    table = load_text("\n".join(kept), source="cabinet-clear")
    assert describe(table) == describe(shipped(base))


def test_a_template_of_an_own_finish_starts_from_that() -> None:
    shelf = {"maple-top-clear": OWN + figure("young_h", value="30")}
    assert "value = 30.0" in template("satin", "maple-top-clear", shelf=shelf)


@pytest.mark.parametrize("name", ["", "Maple", "two words", "shellac", "x" * 41, "-x", "a\n"])
def test_a_template_refuses_a_name_that_will_not_do(name: str) -> None:
    with pytest.raises(BadInput, match="cannot be called"):
        template(name, "waterborne")


def test_a_template_refuses_to_start_from_nothing() -> None:
    with pytest.raises(BadInput, match="did you mean oil-varnish"):
        template("mine", "oil-vernish")


def test_describe_gives_units_and_ends() -> None:
    rows = {row.key: row for row in describe(shipped("waterborne"))}
    assert rows["hours.buff"].unit == "h per coat"
    assert rows["hours.wet-sand"][1:5] == (60.0, "h", 60.0, 336.0)
    assert rows["drying.thickness_exponent"].unit == ""
    assert rows["cure.ea_kj_mol"].unit == "kJ/mol"
    assert "middle.start_h" not in rows


def test_a_reference_of_its_own_asks_for_hours_of_its_own() -> None:
    (fault,) = faults_of(OWN + figure("cure.reference_temp_c", value="23"))
    assert fault.startswith("cure.reference_temp_c: inherited hours are counted at 21")
    assert "hours.buff" in fault
    same = figure("cure.reference_temp_c", value="21.0")
    assert own(same).cure is not None
    hours = {"recoat-opens": 2, "recoat-closes": 24, "dry-sand": 3, "wet-sand": 60}
    hours |= {"buff": 300, "full-cure": 500}
    anew = "".join(figure(f"hours.{name}", value=str(h)) for name, h in hours.items())
    (fault,) = faults_of(OWN + figure("cure.reference_temp_c", value="23") + anew)
    assert "give film.diffusivity_um2_h, film.transfer_um_h anew" in fault
    anew += figure("film.diffusivity_um2_h", value="230") + figure("film.transfer_um_h", value="20")
    assert own(figure("cure.reference_temp_c", value="23") + anew).cure is not None


# --- the page that explains them ----------------------------------------------------------------

PAGE = (Path(__file__).parents[1] / "docs" / "finish-profiles.md").read_text("utf-8")
EXAMPLES = re.findall(r"```(?:toml)?\n(.*?)```", PAGE, re.DOTALL)


@pytest.mark.parametrize("text", EXAMPLES)
def test_every_example_of_the_page_loads(text: str) -> None:
    assert "invented" in load_text(text, source="finish-profiles.md").title


def test_the_page_explains_every_key_with_its_unit() -> None:
    for path, key in FIGURES.items():
        assert f"| `{path}` | {key.unit} |".replace("|  |", "| |") in PAGE, path
    for path in (*TEXTS, "drying.solvent", "pace_prior", "safety", "tried", "extends", "without"):
        assert f"| `{path}` | |" in PAGE, path


def test_the_page_names_every_family_and_every_standing() -> None:
    for word in (*NAMES, *Standing):
        assert f"| `{word}` |" in PAGE, word


def test_the_worked_example_does_as_the_page_says() -> None:
    mine = load_text(EXAMPLES[1], source="finish-profiles.md")
    buff = mine.requirements[MilestoneName.BUFF]
    assert (buff.hours.value, buff.per_coat, buff.hours.low) == (390.0, False, None)
    assert mine.drying.water_load_g_m2 is None
    assert len(mine.safety) == len(shipped("waterborne").safety) + 1
    assert mine.requirements[MilestoneName.WET_SAND].hours.value == 60.0


@pytest.mark.parametrize(
    ("temp_c", "factor"), [(23.0, "1.13 1.16 1.20 1.23"), (25.0, "1.28 1.35 1.43 1.51")]
)
def test_the_pages_conversions_are_the_clocks_own(temp_c: float, factor: str) -> None:
    told = [f"{float(rate(temp_c, 0.5, CureLaw(ea_kj_mol=ea))):.2f}" for ea in (45, 55, 65, 75)]
    assert " ".join(told) == factor
    assert "| {:g} degC | x {} | x {} | x {} | x {} |".format(temp_c, *told) in PAGE


def test_the_pages_drying_conversions_are_the_clocks_own() -> None:
    loss = {t: float(wet_film(t, 0.5, air_speed_m_s=0.15).rate_g_m2_h) for t in (21.0, 23.0, 25.0)}
    assert [round(loss[t] / loss[21.0], 2) for t in (23.0, 25.0)] == [1.09, 1.19]
    law = SolventDrying(solvent="n-butyl acetate")
    assert [round(float(drying_rate_solvent(t, law=law)), 2) for t in (23.0, 25.0)] == [1.13, 1.27]
    assert "50.5 g/m2 an hour" in PAGE
    assert round(loss[21.0], 1) == 50.5


# --- a shop's own directory ---------------------------------------------------------------------


def test_a_directory_gives_texts_by_file_name(tmp_path: Path) -> None:
    (tmp_path / "maple-top-clear.toml").write_text(OWN, "utf-8")
    (tmp_path / "notes.txt").write_text("not a finish", "utf-8")
    (tmp_path / "broken.toml").write_text("= what", "utf-8")  # load_text speaks of its content
    assert read_directory(tmp_path) == {"maple-top-clear": OWN, "broken": "= what"}


def test_a_directory_names_every_file_that_will_not_do(tmp_path: Path) -> None:
    (tmp_path / "waterborne.toml").write_text(OWN, "utf-8")
    (tmp_path / "other.toml").write_text(OWN, "utf-8")
    (tmp_path / "latin.toml").write_bytes(b'title = "\xe9"')
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(BadConfig) as caught:
        read_directory(tmp_path)
    told = "\n".join(caught.value.faults)
    assert len(caught.value.faults) == 4
    assert "waterborne.toml: has the name of a profile that comes with curewatch" in told
    assert "other.toml: is named 'maple-top-clear' inside" in told
    assert "latin.toml: cannot be read as UTF-8" in told
    assert "folder.toml: cannot be read" in told


def test_a_directory_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadConfig, match="nowhere"):
        read_directory(tmp_path / "nowhere")


# --- every fault is named -----------------------------------------------------------------------

FAULTS = {
    "a number without standing": ("\n[hours]\nbuff = 24\n", "hours.buff: must be a table"),
    "a missing value": (figure("young_h", value=""), "young_h.value: missing"),
    "a missing standing": (figure("young_h", standing=""), "young_h.standing: missing"),
    "a standing not on the list": (
        figure("young_h", standing='"datasheet"'),
        "young_h.standing: 'datasheet' is not on the list; did you mean data-sheet?",
    ),
    "a standing that is no word": (figure("young_h", standing="1"), "young_h.standing: 1 is not"),
    "a missing source": (figure("young_h", source=""), "young_h.source: say in a sentence"),
    "an empty source": (figure("young_h", source='"  "'), "young_h.source: say in a sentence"),
    "true for a number": (figure("young_h", value="true"), "young_h.value: must be a number"),
    "text for a number": (figure("young_h", value='"48"'), "must be a number, not '48'"),
    "a date for a number": (figure("young_h", value="2026-05-01"), "must be a number"),
    "nan": (figure("young_h", value="nan"), "young_h.value: nan cannot be meant in h"),
    "infinity": (figure("young_h", value="inf"), "young_h.value: inf cannot be meant in h"),
    "an endless number": (
        figure("young_h", value="0x" + "f" * 5000),
        "young_h.value: what stands there cannot be meant",
    ),
    "no hours at all": (figure("young_h", value="0"), "young_h.value: 0 cannot be meant in h"),
    "joules for kilojoules": (
        figure("cure.ea_kj_mol", value="55000"),
        "cure.ea_kj_mol.value: 55000 cannot be meant in kJ/mol; plausible is 1 to 250",
    ),
    "one end alone": (figure("young_h", low="1"), "young_h: give both low and high"),
    "ends that miss the value": (
        figure("young_h", value="9", low="1", high="2"),
        "young_h: value 9 must lie from low 1 to high 2",
    ),
    "an unknown field": (
        figure("young_h", sauce='"x"'),
        "young_h.sauce: no such key; did you mean source?",
    ),
    "hours a coat where they cannot be": (
        figure("hours.recoat-closes", value="24", per_coat="true"),
        "hours.recoat-closes.per_coat: no such key",
    ),
    "per_coat that is no switch": (
        figure("hours.buff", value="24", per_coat="1"),
        "hours.buff.per_coat: must be true or false, not 1",
    ),
    "an unknown figure": (
        figure("hours.recoat-opnes"),
        "hours.recoat-opnes: no such key; did you mean hours.recoat-opens?",
    ),
    "an unknown table": ("\n[flash]\nx = 1\n", "flash: no such key"),
    "half a middle": (figure("middle.start_h", value="30"), "middle.stop_h: missing"),
    "a window that closes before it opens": (
        figure("hours.recoat-opens", value="30"),
        "hours.recoat-closes: 24 does not agree with hours.recoat-opens 30",
    ),
    "a window that closes as it opens": (
        figure("hours.recoat-opens", value="24"),
        "hours.recoat-closes: 24 does not agree with hours.recoat-opens 24",
    ),
    "a middle inside the window": (
        figure("middle.start_h", value="20") + figure("middle.stop_h", value="30"),
        "middle.start_h: 20 does not agree with hours.recoat-closes 24",
    ),
    "a reference below the lower limit": (
        figure("cure.reference_temp_c", value="10"),
        "cure.reference_temp_c: 10 does not agree with cure.lower_limit_c 15",
    ),
    "limits crossed": (
        figure("limits.rh_warn_pct", value="85"),
        "limits.rh_stop_pct: 80 does not agree with limits.rh_warn_pct 85",
    ),
    "two answers to when the next coat goes on": (
        figure("hours.recoat-opens", value="2") + figure("drying.water_load_g_m2", value="60"),
        "drying.water_load_g_m2: hours.recoat-opens answers the same question",
    ),
    "a law that is none": ('\n[drying]\nlaw = "watre"\n', "'watre' is none of water, solvent"),
    "a solvent nobody knows": (
        '\n[drying]\nlaw = "solvent"\nsolvent = "white spirit"\n',
        "drying.solvent: 'white spirit' is none of",
    ),
    "a law with no use for what is inherited": (
        '\n[drying]\nlaw = "cure"\n',
        "drying.water_load_g_m2: has no meaning under the drying law 'cure'",
    ),
    "a lacquer without its solvent": (
        '\n[drying]\nlaw = "solvent"\n',
        "drying.solvent: missing; add it",
    ),
}


@pytest.mark.parametrize(("text", "said"), FAULTS.values(), ids=FAULTS)
def test_a_fault_in_a_figure_is_named(text: str, said: str) -> None:
    assert any(said in fault for fault in faults_of(OWN + text)), faults_of(OWN + text)


HEADS = {
    "a group that is no table": ("limits = 3\n", "limits: must be a table [limits], not 3"),
    "a text that is a number": ("summary = 3\n", "summary: must be a text in quotes, not 3"),
    "an empty text": ('summary = " "\n', "summary: must be a text in quotes"),
    "tried that is no switch": ('tried = "yes"\n', "tried: must be true or false, not 'yes'"),
    "cautions that are no list": ('safety = "mask"\n', "safety: must be a list of sentences"),
    "a caution that is no sentence": ("safety = [1]\n", "safety: every entry must be a sentence"),
    "a misspelt key": ('sumary = "x"\n', "sumary: no such key; did you mean summary?"),
    "a revision of one's own": ("revision = 2\n", "revision: no such key"),
    "a list of one": ('without = "young_h"\n', "without: must be a list"),
    "leaving out what is not there": (
        'without = ["pot_life_h"]\n',
        "without: nothing called 'pot_life_h' is inherited",
    ),
    "leaving out what must stay": (
        'without = ["limits.rh_stop_pct"]\n',
        "limits.rh_stop_pct: missing; add it (do not spray above)",
    ),
    "leaving out the cautions": ('without = ["safety"]\n', "nothing called 'safety' is inherited"),
    "leaving out a number": ("without = [1]\n", "nothing called 1 is inherited"),
    "leaving out a group": ('without = ["limits"]\n', "nothing called 'limits' is inherited"),
}


@pytest.mark.parametrize(("head", "said"), HEADS.values(), ids=HEADS)
def test_a_fault_at_the_top_is_named(head: str, said: str) -> None:
    assert any(said in fault for fault in faults_of(head + OWN)), faults_of(head + OWN)


def test_a_long_value_is_cut_short_in_a_message() -> None:
    (fault,) = faults_of(OWN + figure("young_h", value=f'"{"x" * 500}"'))
    assert len(fault) < 100


def test_a_profile_without_any_caution_is_refused() -> None:
    assert any(
        f.startswith("safety: must be a list of sentences") for f in faults_of("safety = []")
    )


def test_a_name_that_will_not_do_is_named() -> None:
    (fault,) = faults_of(OWN.replace("maple-top-clear", "Maple Top"))
    assert fault.startswith("name: 'Maple Top' will not do")


def test_a_file_must_say_its_own_name_and_title() -> None:
    told = faults_of('extends = "waterborne"\n')
    assert [fault.partition(":")[0] for fault in told] == ["name", "title"]


def test_all_faults_are_named_at_once() -> None:
    text = OWN + figure("young_h", value="true") + figure("hours.buff", value="-1", source="")
    text += figure("cure.ea_kj_mol", value="999") + figure("limits.rh_warn_pct", value="85")
    told = faults_of("colour = 1\n" + text)
    paths = [fault.partition(":")[0] for fault in told]
    assert sorted(paths) == sorted(
        [
            "colour",
            "young_h.value",
            "hours.buff.value",
            "hours.buff.source",
            "cure.ea_kj_mol.value",
            "limits.rh_stop_pct",
        ]
    )


def test_an_empty_file_is_told_all_it_needs() -> None:
    told = faults_of("")
    assert {"name", "title", "summary", "missed_window", "drying.law", "safety"} <= {
        fault.partition(":")[0] for fault in told
    }
    assert all("missing" in fault for fault in told)


@pytest.mark.parametrize("law", DryingLaw)
def test_a_law_is_told_what_it_needs(law: DryingLaw) -> None:
    told = faults_of(f'[drying]\nlaw = "{law}"\n')
    for path in NEEDED[law]:
        assert any(fault.startswith(f"{path}: missing") for fault in told), path


@pytest.mark.parametrize("law", DryingLaw)
def test_a_law_is_told_what_it_has_no_use_for(law: DryingLaw) -> None:
    for path in IDLE[law]:
        if path == "drying.solvent":
            text = f'[drying]\nlaw = "{law}"\nsolvent = "ethanol"\n'
        else:
            text = f'[drying]\nlaw = "{law}"\n' + figure(path)
        assert any(f.startswith(f"{path}: has no meaning") for f in faults_of(text)), path


@pytest.mark.parametrize("rule", ORDERS, ids=lambda rule: f"{rule.lower} before {rule.upper}")
def test_two_figures_out_of_order_are_named(rule) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    least = max(FIGURES[rule.lower].least, FIGURES[rule.upper].least)
    text = figure(rule.lower, value=str(least + 2)) + figure(rule.upper, value=str(least + 1))
    assert any(rule.because in fault for fault in faults_of(text))
    level = figure(rule.lower, value=str(least + 2)) + figure(rule.upper, value=str(least + 2))
    assert any(rule.because in fault for fault in faults_of(level)) == rule.strict


def test_hours_a_coat_are_not_held_against_hours_in_all() -> None:
    assert own(figure("hours.full-cure", value="70")).requirements  # 24 h a coat, whatever coats


def test_an_unknown_base_is_named_without_a_flood_of_missing_keys() -> None:
    text = OWN.replace('"waterborne"', '"waterbourne"') + figure("young_h", value="0")
    told = faults_of(text)
    assert len(told) == 2
    assert "did you mean waterborne?" in told[0]


def test_extending_something_that_is_no_name_is_named() -> None:
    assert "extends: there is no finish 3" in faults_of(OWN.replace('"waterborne"', "3"))[0]


def test_finishes_that_extend_each_other_are_named() -> None:
    shelf = {
        "a": 'name = "a"\ntitle = "A"\nextends = "b"\n',
        "b": 'name = "b"\ntitle = "B"\nextends = "a"\n',
    }
    assert faults_of(shelf["a"], shelf) == ["extends: b > a > b goes in a circle; break it"]


def test_leaving_out_without_inheriting_is_named() -> None:
    told = faults_of('without = ["young_h"]\n' + shipped_text("waterborne"))
    assert told == ["without: leaves out what is inherited, so it needs 'extends'"]


@pytest.mark.parametrize(
    "text",
    ["name = ", "a = 1\na = 2", "x = " + "[" * 20_000, "x = " + "9" * 5000, 'x = "\ud800"'],
    ids=["cut short", "twice", "a nest of brackets", "an endless number", "half a letter"],
)
def test_what_is_not_toml_is_named(text: str) -> None:
    (fault,) = faults_of(text)
    assert fault.startswith("the file is not TOML")


# --- anything at all ----------------------------------------------------------------------------

TOML_VALUES = st.recursive(
    st.booleans()
    | st.integers(-(10**12), 10**12)
    | st.floats()
    | st.sampled_from(["water", "data-sheet", "hours.buff", "shellac", "", "x" * 60]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["value", "low", "standing", "buff", "x"]), inner)
    ),
    max_leaves=4,
)
PATHS = st.sampled_from([*FIGURES, "name", "safety", "tried", "drying.law", "extends", "without"])


def as_toml(found: object) -> str:
    """Write a value as TOML, inline."""
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, str):
        return f'"{found}"'
    if isinstance(found, list):
        return "[" + ", ".join(map(as_toml, found)) + "]"
    if isinstance(found, dict):
        return "{" + ", ".join(f"{key} = {as_toml(value)}" for key, value in found.items()) + "}"
    return repr(found)


def loads_or_is_told(text: str) -> None:
    try:
        finish = load_text(text, source="mangled")
    except BadConfig as told:
        assert told.faults  # noqa: PT017 - the error is one of the two lawful endings
        return
    assert load_text(resolved_text(text, source="mangled"), source="settled") == finish


@given(st.sampled_from(NAMES), st.data())
@settings(max_examples=200, deadline=None)
def test_a_mangled_file_loads_or_is_told_why(name: str, data: st.DataObject) -> None:
    text = shipped_text(name)
    start = data.draw(st.integers(0, len(text)))
    cut = data.draw(st.integers(0, 40))
    put = data.draw(st.text(max_size=8) | st.sampled_from(["[", "]", "=", '"', "\n", "true", "-"]))
    loads_or_is_told(text[:start] + put + text[start + cut :])


@given(st.dictionaries(PATHS, TOML_VALUES, max_size=6))
@settings(max_examples=300, deadline=None)
def test_any_values_at_any_keys_load_or_are_told_why(entries: dict[str, object]) -> None:
    text = "\n".join(f"{path} = {as_toml(found)}" for path, found in entries.items())
    loads_or_is_told(text)
    if not {"name", "extends", "title"} & entries.keys():
        loads_or_is_told('name = "x"\ntitle = "X"\nextends = "waterborne"\n' + text)


@given(st.text())
@settings(max_examples=100, deadline=None)
def test_any_text_loads_or_is_told_why(text: str) -> None:
    loads_or_is_told(text)
