"""The liquids a maker can name, held against the tables they come from."""

import csv
import re
from decimal import Decimal
from pathlib import Path

import pytest

from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import BatchLiquid

TESTS = Path(__file__).resolve().parents[1]
TABLE = TESTS.parent / "curehouse" / "making" / "data" / "liquids.csv"


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


REFERENCE = {row["ndb"]: row for row in rows_of(TESTS / "reference" / "milk_composition.csv")}
OURS = rows_of(TABLE)
BY_TABLE = [row for row in OURS[1:] if row["key"] != "goat_powder"]


@pytest.mark.parametrize("row", BY_TABLE, ids=lambda row: row["key"])
def test_a_milk_has_the_water_and_fat_of_the_published_table(row: dict[str, str]) -> None:
    cited = re.fullmatch(r"USDA SR, NDB (\d+)", row["source"])
    assert cited, row["source"]
    published = REFERENCE[cited[1]]
    assert (Decimal(row["water_g"]), Decimal(row["fat_g"])) == (Decimal(published["water_g"]), Decimal(published["fat_g"]))


@pytest.mark.parametrize("row", REFERENCE.values(), ids=lambda row: row["description"])
def test_what_a_published_row_names_adds_up_to_a_hundred_grams(row: dict[str, str]) -> None:
    parts = ("water_g", "fat_g", "protein_g", "carbohydrate_g", "ash_g")
    assert sum(Decimal(row[part]) for part in parts) == pytest.approx(100, abs=0.3)


def test_water_is_all_water() -> None:
    assert liquid_kinds()["water"].water_fraction == 1


def test_every_kind_fits_its_column_and_is_named_once() -> None:
    kinds = liquid_kinds()
    assert len(kinds) == len(OURS) == len({kind.name for kind in kinds.values()})
    assert max(map(len, kinds)) <= BatchLiquid._meta.get_field("kind").max_length
    assert all(0 < kind.water_fraction <= 1 for kind in kinds.values())


@pytest.mark.parametrize("row", BY_TABLE, ids=lambda row: row["key"])
def test_a_milk_is_made_of_what_the_published_table_says(row: dict[str, str]) -> None:
    published, kind = REFERENCE[row["source"].split()[-1]], liquid_kinds()[row["key"]]
    made_of = kind.made_of
    assert made_of.sugar * 100 == pytest.approx(float(published["carbohydrate_g"]))
    assert made_of.solids * 100 == pytest.approx(float(published["protein_g"]) + float(published["ash_g"]), abs=0.3)
    assert made_of.water.low <= made_of.water.middle <= made_of.water.high
    assert made_of.fat_saponification is not None
    assert not made_of.fat_measured


def test_milks_of_a_herd_have_the_range_that_herds_have() -> None:
    kinds = liquid_kinds()
    for key, low, high in (("goat_milk", 0.032, 0.045), ("sheep_milk", 0.058, 0.07)):
        fat = kinds[key].made_of.fat
        assert (fat.low, fat.high) == (pytest.approx(low), pytest.approx(high))


def test_what_a_liquid_is_and_whether_it_is_an_allergen() -> None:
    kinds = liquid_kinds()
    assert {key for key, kind in kinds.items() if kind.kind == "powder"} == {"cow_powder", "buttermilk_powder", "goat_powder"}
    assert kinds["water"].kind == "water"
    assert {kind.allergen for kind in kinds.values() if kind.kind in ("milk", "powder")} == {"milk"}
    assert kinds["almond_drink"].allergen == "almond"


def test_what_no_table_was_found_for_says_so_and_is_as_wide_as_bags_differ() -> None:
    (row,) = [row for row in OURS if row["key"] == "goat_powder"]
    rows = rows_of(TESTS / "reference" / "from_memory.csv")
    known = {one["quantity"]: one for one in rows if one["what"] == "goat's milk powder"}
    assert "from memory" in row["source"]
    for part in ("water", "fat"):
        assert (row[f"{part}_low_g"], row[f"{part}_high_g"]) == (known[part]["low"], known[part]["high"])
    made_of = liquid_kinds()["goat_powder"].made_of
    assert (made_of.water.middle, made_of.fat.middle, made_of.sugar) == (0.03, 0.28, 0.36)
