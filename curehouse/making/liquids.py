"""The liquids a maker can name, with what each is made of.

Figures per 100 g from published food composition tables; the source of each row stands in
``data/liquids.csv``. A lot's own figure beats the table and may be typed over it.
"""

import csv
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.liquids import Composition
from curehouse.core.chemistry.liquids import LiquidKind as Kind

_TABLE = Path(__file__).with_name("data") / "liquids.csv"


@dataclass(frozen=True, slots=True)
class LiquidKind:
    """A liquid by name.

    ``water_fraction`` is grams of water per gram (0-1) and ``made_of`` all of it as the core takes
    it: with the ends between which published tables differ, and its carbohydrate counted as sugar.
    """

    key: str
    name: str
    water_fraction: Decimal
    source: str
    kind: Kind
    made_of: Composition
    allergen: str


@cache
def liquid_kinds() -> dict[str, LiquidKind]:
    """Return the liquids by key, in the order they are offered."""
    with _TABLE.open(encoding="utf-8", newline="") as file:
        return {
            row["key"]: LiquidKind(
                key=row["key"],
                name=row["name"],
                water_fraction=Decimal(row["water_g"]) / 100,
                source=row["source"],
                kind=Kind(row["kind"]),
                made_of=_composition(row),
                allergen=row["allergen"],
            )
            for row in csv.DictReader(file)
        }


@cache
def milk_fat_values(kind: Kind) -> Bounds | None:
    """Return between what saponification values (mg KOH per g) the fats of the list's liquids of a *kind* lie."""
    values = [row.made_of.fat_saponification for row in liquid_kinds().values() if row.kind is kind]
    known = [one for one in values if one is not None]
    return Bounds.between(min(one.low for one in known), max(one.high for one in known)) if known else None


# What an own liquid counts as where nothing more is known of it than what it is; any other counts as water.
_STAND_INS = {Kind.MILK: "cow_milk", Kind.POWDER: "cow_powder"}


def stand_in(kind: Kind) -> LiquidKind:
    """Return the liquid of the list that one of a *kind* counts as, as far as nothing is known of it."""
    return liquid_kinds()[_STAND_INS.get(kind, "water")]


def _composition(row: dict[str, str]) -> Composition:
    has_fat = bool(row["fat_saponification_low"])
    return Composition(
        water=_between(row, "water"),
        fat=_between(row, "fat") if has_fat else ZERO,
        sugar=float(row["carbohydrate_g"]) / 100,
        fat_saponification=(
            Bounds.between(float(row["fat_saponification_low"]), float(row["fat_saponification_high"])) if has_fat else None
        ),
    )


def _between(row: dict[str, str], part: str) -> Bounds:
    """Return the row's own figure with the ends of other tables, where the row names them; grams per gram."""
    usual = row[f"{part}_g"]
    low, high = row[f"{part}_low_g"] or usual, row[f"{part}_high_g"] or usual
    return Bounds(float(low) / 100, float(usual) / 100, float(high) / 100)
