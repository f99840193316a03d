"""The rows of a cure log, gathered by batch: read from the file alone, nothing is looked up."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from curehouse.common.tables import Cell, Row
from curehouse.curing.models import Reading
from curehouse.curing.services.readings import LARGEST_BAR_G
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.table import Table
from curehouse.making.services import MOST_BARS

LONGEST_MARK, LONGEST_BAR = 40, 12
# Common practice, no source: the smallest guest soaps weigh ten grams and more.
_LIGHT_G = Decimal(5)
MOST_DAYS = Decimal(3650)
# More bars are never weighed of a batch; a figure in the wrong column would make a bar of each row.
MOST_SAMPLE_BARS = 60
_FIRMNESS = {
    "dents": Reading.Firmness.DENTS, "soft": Reading.Firmness.DENTS, "weich": Reading.Firmness.DENTS,
    "gives": Reading.Firmness.GIVES, "medium": Reading.Firmness.GIVES, "mittel": Reading.Firmness.GIVES,
    "firm": Reading.Firmness.FIRM, "hard": Reading.Firmness.FIRM, "fest": Reading.Firmness.FIRM, "hart": Reading.Firmness.FIRM,
}  # fmt: skip


@dataclass(slots=True)
class WeightPlan:
    """A weighing as the file has it: its bar, grams, and either days since the cut or a day."""

    row: Row
    bar: str
    weight_g: Decimal
    days: Decimal | None
    on: date | datetime | None
    firmness: str = ""


@dataclass(slots=True)
class BatchPlan:
    """What a file says of one batch; ``said_at`` is where each fact stood first."""

    mark: str
    table: Table
    row: Row
    facts: dict[str, Any] = field(default_factory=dict)
    raw: dict[str, Cell] = field(default_factory=dict)
    said_at: dict[str, tuple[Table, Row]] = field(default_factory=dict)
    weights: list[WeightPlan] = field(default_factory=list)
    refused_facts: set[str] = field(default_factory=set)
    has_refused_weights: bool = False

    def refuse(self, key: str, why: str) -> None:
        """Refuse the batch because of a fact, at the row where that stands, or where the batch is named."""
        table, row = self.said_at.get(key, (self.table, self.row))
        table.refuse(row, key, why)


def _firmness(cells: Cells, cell: Cell) -> str:
    word = cells.text(cell, longest=20).casefold()
    if word and word not in _FIRMNESS:
        raise CellFault("is no firmness: use dents, gives or firm")
    return _FIRMNESS.get(word, "")


# Each is told the cell, and the unit that its header names, if it names one.
_ReadFact = Callable[[Cells, Cell, str], Any]
_FACTS: Mapping[str, _ReadFact] = {
    "formula": lambda cells, cell, _unit: cells.text(cell),
    "cut_on": lambda cells, cell, _unit: cells.moment(cell),
    "poured_on": lambda cells, cell, _unit: cells.moment(cell),
    "water_share": lambda cells, cell, unit: cells.share(cell, unit=unit),
    "fats": lambda cells, cell, unit: cells.grams(cell, unit=unit),
    "lye": lambda cells, cell, unit: cells.grams(cell, unit=unit),
    "koh": lambda cells, cell, unit: cells.grams(cell, unit=unit, or_none=True),
    "bars_cut": lambda cells, cell, _unit: cells.whole(cell, most=MOST_BARS),
    "place": lambda cells, cell, _unit: cells.text(cell),
    "note": lambda cells, cell, _unit: cells.text(cell, longest=4000, many_lines=True),
    "still_curing": lambda cells, cell, _unit: cells.yes(cell),
}


def mark_in(cells: Cells, table: Table, row: Row) -> str:
    """Return what a row calls its batch, or nothing where it names none and is refused."""
    try:
        mark = cells.name(table.cell(row, "batch"), longest=LONGEST_MARK)
    except CellFault as fault:
        table.refuse(row, "batch", str(fault))
        return ""
    if not mark:
        table.refuse(row, "batch", "is empty: say which batch the row is about")
    return mark


class Gathering:
    """Makes a batch of its rows."""

    def __init__(self, cells: Cells) -> None:
        self._cells = cells
        self.without_weight = self.light = 0
        self.first_light = ""

    def gather(self, rows: Sequence[tuple[Table, Row]]) -> BatchPlan:
        """Return what some rows say of the one batch they all name; only those of a table with weights weigh it."""
        table, row = rows[0]
        plan = BatchPlan(mark_in(self._cells, table, row), table, row)
        for table, row in rows:
            for key, read in _FACTS.items():
                if key in table.index_of:
                    self._fact(plan, table, row, key, read)
            if table.has("weight"):
                self._weight(plan, table, row)
        return plan

    def _fact(self, plan: BatchPlan, table: Table, row: Row, key: str, read: _ReadFact) -> None:
        cell = table.cell(row, key)
        if cell is None or plan.raw.get(key) == cell:
            return
        try:
            value = read(self._cells, cell, table.unit_of(key))
        except CellFault as fault:
            table.refuse(row, key, str(fault))
            plan.refused_facts.add(key)
            return
        if key not in plan.facts:
            plan.facts[key], plan.raw[key], plan.said_at[key] = value, cell, (table, row)
        elif plan.facts[key] != value:
            first = plan.said_at[key][1].number
            table.refuse(row, key, f"says something else of {plan.mark} than row {first} does: make both the same")

    def _weight(self, plan: BatchPlan, table: Table, row: Row) -> None:
        cells, cell = self._cells, table.cell(row, "weight")
        if cell is None:
            self.without_weight += 1
            return
        key = "weight"
        try:
            weight_g = cells.grams(cell, unit=table.unit(row, "weight"), most=LARGEST_BAR_G)
            key = "bar"
            bar = cells.text(table.cell(row, "bar"), longest=LONGEST_BAR) or ("" if table.has("bar") else table.bar or "A")
            if not bar:
                raise CellFault("is empty: say which bar was weighed")
            key = "firmness"
            firmness = _firmness(cells, table.cell(row, "firmness"))
            key = "weighed_on"
            on = table.cell(row, "weighed_on")
            weighed_on = None if on is None else cells.moment(on)
            key = "day"
            days = None if on is not None else self._days(table.cell(row, "day"), table.unit_of("day"))
        except CellFault as fault:
            table.refuse(row, key, str(fault))
            plan.has_refused_weights = True
            return
        if weight_g < _LIGHT_G:
            self.light += 1
            self.first_light = self.first_light or f"Row {row.number}: {weight_g.normalize():f} g"
        plan.weights.append(WeightPlan(row, bar, weight_g, days, weighed_on, firmness))

    def _days(self, cell: Cell, unit: str) -> Decimal:
        if cell is None:
            raise CellFault("is empty: say when the bar was weighed, by its day since the cut or by a date")
        days = self._cells.days(cell, unit=unit)
        if not 0 <= days <= MOST_DAYS:
            raise CellFault(f"lies outside 0 to {MOST_DAYS} days since the cut")
        return days
