"""The files of ``reorder_levels``: a folder of CSV files, held for what they must be.

Quantities are grams, days are ISO dates, money is in one currency; README names the columns.
"""

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import fmean
from typing import TypeVar

from curehouse.commands.house.files import Fields, csv_rows, read_json
from curehouse.commands.house.refusal import Refused
from curehouse.core.stock.reorder.things import Costs, Item, Planned, Use

Made = TypeVar("Made")
# What a delivery takes where nobody has had one: common practice, no source.
NEVER_DELIVERED_DAYS = 8.0
# Of its shelf life a lot has so much left when it comes: common practice, no source.
LIFE_LEFT = 0.9


@dataclass(frozen=True)
class Row:
    """One row of a file, with where it stands."""

    where: str
    values: dict[str, str]

    def text(self, name: str) -> str:
        """Return a name."""
        value = (self.values.get(name) or "").strip()
        if not value:
            raise Refused(f"{self.where}: “{name}” is empty; write the name.")
        return value

    def day(self, name: str, as_of: date) -> int:
        """Return a date as days from *as_of*."""
        value = (self.values.get(name) or "").strip()
        try:
            return (date.fromisoformat(value) - as_of).days
        except ValueError as error:
            raise Refused(f"{self.where}: “{name}” is {value!r}; write a date as 2026-01-31.") from error

    def number(self, name: str, *, least: float = 0.0) -> float:
        """Return a number from *least* up."""
        value = (self.values.get(name) or "").strip()
        try:
            found = float(value)
        except ValueError as error:
            raise Refused(f"{self.where}: “{name}” is {value!r}; write a plain number.") from error
        if not least <= found < math.inf:
            raise Refused(f"{self.where}: “{name}” is {value}; write a number from {least:g} up.")
        return found


def _rows(path: Path, columns: Sequence[str]) -> Iterator[Row]:
    return (Row(where, values) for where, values in csv_rows(path, columns))


def read_shop(folder: Path) -> tuple[list[Item], date, Costs]:
    """Return the materials of *folder*, the day they stand as of, and what holding and being late cost.

    Raises
    ------
    Refused
        A file is absent or holds what it must not; the message says where and what to write.
    """
    meta = Fields(f"{folder / 'meta.json'}", read_json(folder / "meta.json"))
    as_of = date.fromordinal(meta.day("as_of"))
    known = as_of.toordinal() - meta.day("history_start") + 1
    if known < 1:
        raise Refused(f"{meta.where}: history_start lies after as_of; exchange them.")
    uses = _by_material(
        _rows(folder / "consumption.csv", ("material", "date", "quantity_g")),
        lambda row: Use(row.day("date", as_of), row.number("quantity_g")),
    )
    planned = _by_material(
        _rows(folder / "planned_runs.csv", ("material", "date", "quantity_g")),
        lambda row: Planned(row.day("date", as_of), row.number("quantity_g"), row.values.get("run") or ""),
    )
    taken, of_supplier = _deliveries(folder, as_of)
    items = []
    columns = ("material", "supplier", "pack_g", "minimum_packs", "shelf_life_days", "ordering_cost", "unit_cost_per_kg")
    for row in _rows(folder / "materials.csv", columns):
        name = row.text("material")
        days = of_supplier.get(row.text("supplier")) or [one for all_of in of_supplier.values() for one in all_of]
        items.append(
            Item(
                name=name,
                uses=[use for use in uses[name] if -known < use.day <= 0 and use.quantity > 0],
                known_days=known,
                days_taken=taken[name],
                usual_days=fmean(days) if days else NEVER_DELIVERED_DAYS,
                pack=row.number("pack_g", least=1e-6),
                minimum_packs=int(row.number("minimum_packs")),
                life_days=int(row.number("shelf_life_days", least=1) * LIFE_LEFT),
                price=row.number("unit_cost_per_kg") / 1000,
                order_cost=row.number("ordering_cost"),
                planned=[one for one in planned[name] if one.day > 0],
            )
        )
    return items, as_of, _costs(meta)


def _by_material(rows: Iterator[Row], make: Callable[[Row], Made]) -> dict[str, list[Made]]:
    found: dict[str, list[Made]] = defaultdict(list)
    for row in rows:
        found[row.text("material")].append(make(row))
    return found


def _deliveries(folder: Path, as_of: date) -> tuple[dict[str, list[float]], dict[str, list[float]]]:
    """Return the days that deliveries took, oldest first, by material and by supplier."""
    rows = [
        (row.day("received", as_of), row.day("ordered", as_of), row)
        for row in _rows(folder / "receipts.csv", ("material", "supplier", "ordered", "received"))
    ]
    of_material: dict[str, list[float]] = defaultdict(list)
    of_supplier: dict[str, list[float]] = defaultdict(list)
    for received, ordered, row in sorted(rows, key=lambda one: one[:2]):
        if received < ordered:
            raise Refused(f"{row.where}: received before it was ordered; put one of the dates right.")
        of_material[row.text("material")].append(received - ordered)
        of_supplier[row.text("supplier")].append(received - ordered)
    return of_material, of_supplier


def _costs(meta: Fields) -> Costs:
    usual, said = Costs(), meta.names()
    found = (
        meta.from_zero(name) if name in said else otherwise
        for name, otherwise in (
            ("holding_rate", usual.holding_rate),
            ("delay_cost", usual.late_batch),
            ("delay_day_cost", usual.late_day),
        )
    )
    return Costs(*found)
