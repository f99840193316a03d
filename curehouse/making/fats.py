"""The fats a maker can name, with how much lye they take and what they are made of.

Published ranges; the source of each row, and how sure it is, stand in ``data/fats.csv`` and
``data/fatty_acids.csv``. A lot's certificate beats the table.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType

from curehouse.core.chemistry.bounds import Bounds

_DATA = Path(__file__).with_name("data")
_NOT_ACIDS = {"fat", "how_sure"}


@dataclass(frozen=True, slots=True)
class FatKind:
    """A fat by name.

    Saponification values in mg KOH per g of fat, from a low to a high end; ``how_sure`` says whether
    they were read in their source, recalled from memory, or computed. ``fatty_acids`` are its usual
    shares (0-1) by the names of `core.chemistry.fatty_acids`, empty where none are known.
    """

    key: str
    name: str
    saponification_low: Decimal
    saponification_high: Decimal
    source: str
    how_sure: str
    allergen: str
    fatty_acids: Mapping[str, float]

    @property
    def saponification(self) -> Bounds:
        """The published range as the core takes it, mg KOH per g."""
        return Bounds.between(float(self.saponification_low), float(self.saponification_high))


@cache
def fat_kinds() -> dict[str, FatKind]:
    """Return the fats by key, in the order they are offered."""
    profiles = _profiles()
    with (_DATA / "fats.csv").open(encoding="utf-8", newline="") as file:
        return {
            row["key"]: FatKind(
                key=row["key"],
                name=row["name"],
                saponification_low=Decimal(row["saponification_low"]),
                saponification_high=Decimal(row["saponification_high"]),
                source=row["source"],
                how_sure=row["how_sure"],
                allergen=row["allergen"],
                fatty_acids=MappingProxyType(profiles.get(row["key"], {})),
            )
            for row in csv.DictReader(file)
        }


def _profiles() -> dict[str, dict[str, float]]:
    with (_DATA / "fatty_acids.csv").open(encoding="utf-8", newline="") as file:
        return {
            row["fat"]: {name: float(share) / 100 for name, share in row.items() if name not in _NOT_ACIDS and share}
            for row in csv.DictReader(file)
        }
