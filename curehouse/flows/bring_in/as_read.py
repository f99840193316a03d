"""The first rows of a file as they were read, in words: so that a misreading is seen before it comes in."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from heapq import nsmallest
from itertools import islice
from typing import Any

from curehouse.flows.bring_in.batch_plan import BatchPlan, WeightPlan
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.header_units import MASSES, SHARES, Holds
from curehouse.flows.bring_in.lines import Line, LinesRead
from curehouse.flows.bring_in.money import Money
from curehouse.flows.bring_in.outcome import AsRead, shown_value

_ROWS = 3
InWords = Callable[[Line], str]


def in_words(value: Any, holds: Holds) -> str:
    """Return what was read of a cell: grams, shares in per cent, days with their month's name."""
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{in_words(value.date(), holds)}, {value:%H:%M}"
    if isinstance(value, date):
        return f"{value.day} {value:%B} {value.year}"
    if not isinstance(value, Decimal):
        return shown_value(value)
    if holds in SHARES:
        return f"{(100 * value).normalize():f} %"
    figure = f"{value.normalize():f}"
    return f"{figure} g" if holds in MASSES else f"day {figure}" if holds is Holds.DAYS else figure


def lines_as_read(
    found: LinesRead, columns: Sequence[Column], *, currency: str = "", otherwise: Mapping[str, InWords] | None = None
) -> AsRead:
    """Return the first rows of a list that could be read; *otherwise* says what stands under a key in its own way."""
    lines = list(islice(found.lines, _ROWS))
    shown = [column for column in columns if any(column.key in line.facts for line in lines)]

    def cell(line: Line, column: Column) -> str:
        value = line.facts.get(column.key)
        if isinstance(value, Money):
            per = line.table.price_header(column.key).per
            said = f"{value.number.normalize():f} {currency}"
            return said if column.key == "price" else f"{said} for {_one(per and str(per), line)}"
        ways = otherwise or {}
        return ways[column.key](line) if value is not None and column.key in ways else in_words(value, column.holds)

    rows = [(f"{line.row.number}", *(cell(line, column) for column in shown)) for line in lines]
    return AsRead(("Row", *(column.label for column in shown)), tuple(rows)) if rows else AsRead()


def _one(per: str | None, line: Line) -> str:
    return per or f"one {getattr(line.facts.get('amount'), 'unit', '') or 'of the amount’s unit'}"


def batches_as_read(plans: Sequence[BatchPlan], columns: Sequence[Column]) -> AsRead:
    """Return the first rows of a cure log that could be read, with what it says of their batches."""
    every = ((weight.row.number, place, weight) for place, plan in enumerate(plans) for weight in plan.weights)
    first = [(plans[place], weight) for _number, place, weight in nsmallest(_ROWS, every, key=lambda one: one[0])]
    rows = [(weight.row.number, _batch_cells(plan, weight)) for plan, weight in first]
    shown = [column for column in columns if any(column.key in cells for _number, cells in rows)]
    lines = [(f"{number}", *(in_words(cells.get(column.key), column.holds) for column in shown)) for number, cells in rows]
    return AsRead(("Row", *(column.label for column in shown)), tuple(lines)) if lines else AsRead()


def _batch_cells(plan: BatchPlan, weight: WeightPlan) -> dict[str, Any]:
    told = {"bar": weight.bar, "weight": weight.weight_g, "day": weight.days, "weighed_on": weight.on}
    told["firmness"] = weight.firmness or None
    return {"batch": plan.mark, **{key: value for key, value in told.items() if value is not None}, **plan.facts}
