"""The fats a maker can name, held against the tables they come from and against each other."""

import csv
from pathlib import Path

import pytest

from curehouse.core.chemistry.fatty_acids import FATTY_ACIDS, Group, grouped, saponification_value
from curehouse.making.fats import FatKind, fat_kinds

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
FATS = fat_kinds()


def rows_of(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


PUBLISHED = {
    "olive (virgin and refined)": "olive",
    "arachis (peanut)": "peanut",
    "rapeseed low erucic (canola)": "rapeseed",
    "rapeseed (high erucic)": "rapeseed_high_erucic",
    "lard / rendered pork fat": "lard",
    "edible tallow": "tallow",
    "shea butter unrefined": "shea",
    "milk fat (cow butterfat)": "butterfat",
}
MEASURED = {
    "canola": "rapeseed",
    "safflower (linoleic)": "safflower",
    "safflower (high oleic)": "safflower_high_oleic",
    "sunflower (high oleic)": "sunflower_high_oleic",
    "beef tallow": "tallow",
    "Butter oil, anhydrous": "butterfat",
    "Seeds, hemp seeds, hulled": "hemp",
}


def key_of(name: str) -> str:
    return PUBLISHED.get(name) or MEASURED.get(name) or name.replace(" ", "_")


STANDARDS = [row for row in rows_of("saponification_values.csv") if "cross-check" not in row["fat"]]
COMPUTED = [row for row in rows_of("saponification_computed.csv") if key_of(row["fat"]) in FATS]


@pytest.mark.parametrize("row", STANDARDS, ids=lambda row: row["fat"])
def test_a_fat_has_the_range_of_its_standard(row: dict[str, str]) -> None:
    fat = FATS[key_of(row["fat"])]
    assert (fat.saponification_low, fat.saponification_high) == (int(row["SV_min"]), int(row["SV_max"]))
    assert fat.how_sure.startswith("read" if row["how_known"].startswith("READ") else "from memory")


def test_most_measured_fats_are_among_ours() -> None:
    assert len(COMPUTED) == 22


@pytest.mark.parametrize("row", COMPUTED, ids=lambda row: row["fat"])
def test_what_measured_fatty_acids_take_lies_in_the_range(row: dict[str, str]) -> None:
    range_ = FATS[key_of(row["fat"])].saponification
    assert range_.low <= float(row["computed_SV_pure_TAG_mgKOH_g"]) <= range_.high


@pytest.mark.parametrize("row", COMPUTED, ids=lambda row: row["fat"])
def test_our_usual_fatty_acids_come_to_the_measured_value(row: dict[str, str]) -> None:
    """The shares are from memory; that they take the lye that measured ones take, within 2 %, is what holds them."""
    value = saponification_value(FATS[key_of(row["fat"])].fatty_acids)
    assert value == pytest.approx(float(row["computed_SV_pure_TAG_mgKOH_g"]), rel=0.02)


@pytest.mark.parametrize("fat", [one for one in FATS.values() if one.fatty_acids], ids=lambda fat: fat.key)
def test_fatty_acids_are_those_of_the_core_and_nearly_whole(fat: FatKind) -> None:
    assert fat.fatty_acids.keys() <= FATTY_ACIDS.keys()
    assert 0.94 <= sum(fat.fatty_acids.values()) <= 1.005
    # Unsaponifiables make a real fat's value lower than that of its pure triglycerides, never higher.
    assert fat.saponification.low <= saponification_value(fat.fatty_acids) <= fat.saponification.high * 1.02


@pytest.mark.parametrize(
    ("key", "group"),
    [
        ("coconut", Group.SHORT),
        ("babassu", Group.SHORT),
        ("palm_stearin", Group.LONG),
        ("cocoa_butter", Group.LONG),
        ("olive", Group.ONE_DOUBLE),
        ("castor", Group.ONE_DOUBLE),
        ("sunflower", Group.MORE_DOUBLE),
        ("flaxseed", Group.MORE_DOUBLE),
    ],
)
def test_a_fat_is_mostly_what_it_is_known_as(key: str, group: Group) -> None:
    assert grouped([(1000, FATS[key].fatty_acids)]).shares[0].group is group


def test_waxes_alone_have_no_fatty_acids_named() -> None:
    assert {key for key, fat in FATS.items() if not fat.fatty_acids} == {"beeswax", "lanolin"}


@pytest.mark.parametrize(("key", "what"), [("stearic_acid", "stearic acid"), ("beeswax", "beeswax"), ("lanolin", "lanolin")])
def test_what_is_no_fat_has_its_range_from_memory_and_says_so(key: str, what: str) -> None:
    (row,) = [one for one in rows_of("from_memory.csv") if one["what"] == what and one["quantity"].endswith("value")]
    fat = FATS[key]
    assert (str(fat.saponification_low), str(fat.saponification_high)) == (row["low"], row["high"])
    assert row["how_known"].startswith("MEMORY")
    assert "from memory" in fat.how_sure


def test_stearic_acid_takes_what_its_molar_mass_says() -> None:
    """A free acid has no glycerol: one equivalent a mol; what is sold is a mixture with palmitic acid."""
    masses = {row["what"]: float(row["low"]) for row in rows_of("from_memory.csv") if row["quantity"] == "molar mass"}
    assert FATTY_ACIDS["c18_0"].g_per_mol == pytest.approx(masses["stearic acid"], abs=0.01)
    assert FATTY_ACIDS["c16_0"].g_per_mol == pytest.approx(masses["palmitic acid"], abs=0.01)
    pure, half = 56105.6 / masses["stearic acid"], 56105.6 / ((masses["stearic acid"] + masses["palmitic acid"]) / 2)
    range_ = FATS["stearic_acid"].saponification
    assert range_.low < pure < half < range_.high


def test_every_fat_is_named_once_and_says_where_its_figures_are_from() -> None:
    assert len({fat.name for fat in FATS.values()}) == len(FATS) == 35
    assert all(fat.source and fat.how_sure for fat in FATS.values())
    assert FATS["almond"].allergen == "almond"
