"""Tables that people keep: CSV and XLSX files in, row by row, and out again.

What is read is checked before it is believed (size, packing, text, markup) and streamed; whatever
is wrong with a file is an :class:`~curehouse.common.errors.Invalid` that says what to do.
"""

from curehouse.common.tables.cells import Cell, Figure, Layout, Row, Unreadable, cell_name, looks_like_formula
from curehouse.common.tables.csv_files import DELIMITERS, ENCODINGS
from curehouse.common.tables.limits import MOST_BYTES, MOST_CHARACTERS, MOST_COLUMNS, MOST_ROWS
from curehouse.common.tables.reading import look, rows
from curehouse.common.tables.writing import csv_lines, write_xlsx

__all__ = [
    "DELIMITERS",
    "ENCODINGS",
    "MOST_BYTES",
    "MOST_CHARACTERS",
    "MOST_COLUMNS",
    "MOST_ROWS",
    "Cell",
    "Figure",
    "Layout",
    "Row",
    "Unreadable",
    "cell_name",
    "csv_lines",
    "look",
    "looks_like_formula",
    "rows",
    "write_xlsx",
]
