"""A table of a file, opened as its options say, with its columns by what they are."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from curehouse.common.errors import Invalid
from curehouse.common.tables import Cell, Layout, Row, cell_name, look, rows
from curehouse.flows.bring_in.columns import Column, could_be, misfit, plain
from curehouse.flows.bring_in.days import CellFault
from curehouse.flows.bring_in.header_units import MASSES, WEEKS, Holds, bar_in, in_brackets, unit_called, unit_in
from curehouse.flows.bring_in.money import PriceHeader, price_header
from curehouse.flows.bring_in.options import UNITS, TableOptions
from curehouse.flows.bring_in.outcome import Findings, Refusal, shown_value

FIRST_IS_DATA = "The first row looks like data, not headings, so it is read as data"


def layout_of(path: Path, options: TableOptions) -> Layout:
    """Return how a table is read."""
    return look(
        path,
        sheet=options.sheet,
        delimiter=options.delimiter,
        encoding=options.encoding,
        header_row=options.header_row,
    )


@dataclass(slots=True)
class Table:
    """Rows of a file; ``name`` tells two tables of one import apart in what is refused."""

    path: Path
    layout: Layout
    index_of: dict[str, int]
    holds: Mapping[str, Holds]
    findings: Findings
    name: str = ""
    units: dict[str, str] = field(init=False)
    prices: dict[str, PriceHeader] = field(init=False)

    def __post_init__(self) -> None:
        # Once for the table: they are asked for with every row.
        headers = {key: self.layout.headers[index] for key, index in self.index_of.items()}
        self.units = {key: unit_in(header, self.holds[key]) for key, header in headers.items()}
        self.prices = {key: price_header(header) for key, header in headers.items() if self.holds[key] is Holds.MONEY}

    def rows(self) -> Iterator[Row]:
        """Yield the rows, read anew from the file: none is held."""
        return rows(self.path, self.layout)

    def cell(self, row: Row, key: str) -> Cell:
        """Return what stands in a row under *key*, or None where there is nothing or no such column."""
        index = self.index_of.get(key)
        return None if index is None or index >= len(row.cells) else row.cells[index]

    def unit_of(self, key: str) -> str:
        """Return the unit that the header of a column names for its figures, or nothing."""
        return self.units.get(key, "")

    def price_header(self, key: str) -> PriceHeader:
        """Return what the header of a column says of its prices."""
        return self.prices[key]

    def unit(self, row: Row, key: str) -> Cell:
        """Return the unit of what stands under *key* where the row or the column's header says one.

        Raises ``CellFault`` where the two differ.
        """
        of_row, of_header = self.cell(row, "unit"), self.unit_of(key)
        if of_row and of_header and (said := unit_called(str(of_row))) != of_header:
            raise CellFault(
                f"has two units, “{said}” in its row and “{of_header}” in the header of its column: keep the one that holds"
            )
        return of_row or of_header or None

    @property
    def bar(self) -> str:
        """Return the bar that the header of the weights names, where no column names the bars; or nothing."""
        return "" if self.has("bar") or not self.has("weight") else bar_in(self.header_of("weight"))

    def header_of(self, key: str) -> str:
        """Return the header of a column that the table has."""
        return self.layout.headers[self.index_of[key]]

    def has(self, key: str) -> bool:
        """Return whether a column is *key*."""
        return key in self.index_of

    def cells_of(self, row: Row, keys: Iterable[str]) -> Iterator[Cell]:
        """Yield what stands in a row under *keys*."""
        return (self.cell(row, key) for key in keys if key in self.index_of)

    def refuse(self, row: Row, key: str, why: str) -> None:
        """Note that a row cannot be taken, because of what stands under *key*."""
        index = self.index_of.get(key)
        header = "" if index is None else self.layout.headers[index]
        cell = f"row {row.number}" if index is None else cell_name(row.number, index)
        value = shown_value(self.cell(row, key))
        self.findings.refuse(Refusal(row.number, cell, header, value, why, self.name))


def _no_unit(header: str) -> str:
    """Return what stands in a header's brackets that might be meant as a unit: words alone, and no figure."""
    return next((text.strip() for text in in_brackets(header) if re.fullmatch(r"\s*[^\W\d_]+\.?\s*", text)), "")


def open_table(
    path: Path, options: TableOptions, columns: Sequence[Column], findings: Findings, *, unless_said: str, name: str = ""
) -> Table:
    """Open a table; a column said to be two things, or of a place it has not, is refused.

    A column of masses whose header names another unit than *unless_said* is read in that one, and that is
    remarked; so is one that is left out because its unit is not that of what its words say.
    """
    layout = layout_of(path, options)
    known = {column.key for column in columns}
    index_of: dict[str, int] = {}
    for index, key in sorted(options.columns.items()):
        if not key:
            continue
        if key not in known or not 0 <= index < len(layout.headers):
            raise Invalid("columns", f"There is no column “{key}” to be found here: say again what each column is.")
        if key in index_of:
            label = next(column.label for column in columns if column.key == key)
            raise Invalid("columns", f"Two columns are said to be “{label}”: leave one of them out.", field="columns")
        index_of[key] = index
    holds = {column.key: column.holds for column in columns}
    table = Table(path, layout, index_of, holds, findings, name)
    if layout.begins_with_data:
        findings.remark(f"{FIRST_IS_DATA}.")
    _remark_on_units(table, unless_said)
    _remark_on_left_out(table, columns)
    return table


def _remark_on_units(table: Table, unless_said: str) -> None:
    """Say in what figures are read where their header tells."""
    holds, findings, bar = table.holds, table.findings, table.bar
    if bar:
        findings.remark(f"No column names the bars: “{bar}” is taken from “{table.header_of('weight')}”.")
    for key, unit in table.units.items():
        header = table.header_of(key)
        if holds[key] is Holds.DAYS and unit == WEEKS:
            findings.remark(f"“{header}” counts weeks of seven days: week 2 is day 14.")
        if holds[key] in MASSES and unit in UNITS and unit != unless_said:
            findings.remark(f"“{header}” is read in {unit}, as its header says.")
        if holds[key] in MASSES and not unit and (words := _no_unit(header)) and not (key == "weight" and words == bar):
            findings.remark(f"“{words}” in “{header}” is no unit known here: figures without one are read in {unless_said}.")


def _remark_on_left_out(table: Table, columns: Sequence[Column]) -> None:
    """Say of a column why it is left out where that may not be what its writer thinks."""
    used = {plain(table.header_of(key)): key for key in table.index_of}
    for index, header in enumerate(table.layout.headers):
        if index in table.index_of.values():
            continue
        column = misfit(header, columns)
        open_still = [f"“{one.label}”" for one in could_be(header, columns) if one.key not in table.index_of]
        if open_still:
            table.findings.remark(f"“{header}” is left out: it may be {' or '.join(open_still)}. Say which, if it counts.")
        elif column is not None and column.key not in table.index_of:
            unit = unit_in(header, column.holds)
            table.findings.remark(f"“{header}” is left out: by its header it is in {unit}, so it is not “{column.label}”.")
        elif in_brackets(header) and (key := used.get(plain(header))):
            label = next(one.label for one in columns if one.key == key)
            said = f"“{header}” is left out: “{table.header_of(key)}” is read as “{label}” already."
            table.findings.remark(f"{said} Give what it holds rows of its own.")
