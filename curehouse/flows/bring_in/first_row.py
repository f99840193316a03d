"""Whether a first row names the columns or is data: where nothing tells, a person is asked, so that none is lost silently."""

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import islice
from pathlib import Path

from curehouse.common.errors import Invalid
from curehouse.common.tables import Cell, Figure, Layout, Row, rows
from curehouse.flows.bring_in.columns import Column, guess
from curehouse.flows.bring_in.figures import parted
from curehouse.flows.bring_in.header_units import DAY_WORDS, WEEK_WORDS, is_unit, words_of
from curehouse.flows.bring_in.options import TableOptions
from curehouse.flows.bring_in.outcome import shown_value
from curehouse.flows.bring_in.stock_cells import is_material_kind

# So many cells of the row are shown.
_NAMED = 4
_ABOUT = re.compile(r"(?:[~≈±<>]|(?:ca|circa|about|approx|etwa|environ)\b\.?)?\s*\d[\d.,'’\s/⁄]*(.*)", re.IGNORECASE)
_DAY = re.compile(r"\d{1,4}([./-])\d{1,2}(?:\1(?:\d{1,4})?)?")
_BENEATH = 5
CROSSTAB = (
    "The file has a column for each day of weighing: give it one row for each weighing, like “batch, bar, weighed on, weight” "
    "and beneath it “F1, A, 2026-01-09, 121.4”, then “F1, A, 2026-01-16, 118.9”."
)


@dataclass(frozen=True, slots=True)
class FirstRow:
    """A row that may name the columns or be data: its number, the first of its cells, and for which it is taken."""

    number: int
    cells: tuple[str, ...]
    is_taken_for_data: bool

    @property
    def shown(self) -> str:
        """Return its cells in words."""
        return ", ".join(f"“{cell}”" for cell in self.cells)


def asked_of(
    path: Path, layout: Layout, options: TableOptions, columns: Sequence[Column], remembered: Mapping[str, str]
) -> FirstRow | None:
    """Return the row of which it is to be asked what it is, or None where that is known or was said."""
    if options.row_is_said or (layout.header_row and not _may_be_data(layout.headers, columns, remembered)):
        return None
    first = next(_from_head(path, layout), None)
    if first is None:
        return None
    cells = [shown_value(cell) for cell in first.cells if cell is not None]
    return FirstRow(first.number, tuple(cells[:_NAMED]), is_taken_for_data=not layout.header_row)


def refuse_doubtful(first: FirstRow | None, *, name: str = "") -> None:
    """Raise ``Invalid`` where a row is taken for headings and nothing tells that it is; a second table has a *name*."""
    if first is None or first.is_taken_for_data:
        return
    said = f"Row {first.number}{name and f' of the {name}'} may name the columns or be data: {first.shown}."
    if name:
        raise Invalid("header_row", f"{said} Give it a first row of headings known here, like “batch” and “cut on”.")
    which = f"header_row {first.number} (--header-row {first.number}) where it names them, 0 (--header-row 0) where it is data"
    raise Invalid("header_row", f"{said} Say {which}.", field="header_row")


def refuse_crosstab(path: Path, layout: Layout, columns: Sequence[Column]) -> None:
    """Raise ``Invalid`` for a cure log whose headings are the days of weighing."""
    if not {"weight", "weighed_on"} <= {column.key for column in columns}:
        return
    head, *beneath = [*islice(_from_head(path, layout), 1 + _BENEATH)] or [Row(0, ())]
    days = [index for index, cell in enumerate(head.cells) if _is_day(cell)]
    if sum(any(index < len(row.cells) and _is_figure(row.cells[index]) for row in beneath) for index in days) > 1:
        raise Invalid("crosstab", CROSSTAB, field="file")


def _from_head(path: Path, layout: Layout) -> Iterator[Row]:
    return rows(path, replace(layout, header_row=max(layout.header_row - 1, 0)))


def _may_be_data(headers: Sequence[str], columns: Sequence[Column], remembered: Mapping[str, str]) -> bool:
    """Whether no header is known, or one reads as a value; a word for a kind is one where hardly a header is known."""
    has_kinds = any(column.key == "material_kind" for column in columns)
    kinds = {index for index, header in enumerate(headers) if has_kinds and is_material_kind(header)}
    known = set(guess(headers, columns, remembered))
    sure = known - kinds
    return not sure or any(map(_is_amount, headers)) or (len(sure) == 1 and not kinds <= known)


def _is_amount(text: str) -> bool:
    """Whether *text* is an amount with its unit, roughly said or with a fraction: ``250 pieces``, ``~5 kg``, ``½ kg``."""
    match = _ABOUT.fullmatch(unicodedata.normalize("NFKC", text).strip())
    return match is not None and all(map(is_unit, words_of(match[1])))


def _is_day(cell: Cell) -> bool:
    if isinstance(cell, date):
        return True
    if not isinstance(cell, str):
        return False
    words = words_of(cell)
    is_numbered = len(words) == 2 and any(word.isdecimal() for word in words) and set(words) & (DAY_WORDS | WEEK_WORDS)
    return bool(is_numbered or _DAY.fullmatch(cell.strip()))


def _is_figure(cell: Cell) -> bool:
    if isinstance(cell, str):
        return parted(cell) is not None and not _DAY.fullmatch(cell.strip())
    return isinstance(cell, (Decimal, Figure))
