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


@pytest.mark.parametrize("row", OURS[1:], ids=lambda row: row["key"])
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
