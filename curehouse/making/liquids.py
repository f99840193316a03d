"""The liquids a maker can name, with the part of each that is water.

Figures per 100 g from published food composition tables; the source of each row stands in
``data/liquids.csv``. A lot's own figure beats the table and may be typed over it.
"""

import csv
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

_TABLE = Path(__file__).with_name("data") / "liquids.csv"


@dataclass(frozen=True, slots=True)
class LiquidKind:
    """A liquid by name: ``water_fraction`` is grams of water per gram (0-1)."""

    key: str
    name: str
    water_fraction: Decimal
    source: str


@cache
def liquid_kinds() -> dict[str, LiquidKind]:
    """Return the liquids by key, in the order they are offered."""
    with _TABLE.open(encoding="utf-8", newline="") as file:
        return {
            row["key"]: LiquidKind(row["key"], row["name"], Decimal(row["water_g"]) / 100, row["source"])
            for row in csv.DictReader(file)
        }
