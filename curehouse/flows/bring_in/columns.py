"""What a column of a file can be, and how it is known by its header."""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from curehouse.flows.bring_in.header_units import Holds, fits, is_unit, outside_brackets, unit_in, words_of
from curehouse.flows.bring_in.money import bare_price, per_in


@dataclass(frozen=True, slots=True)
class Column:
    """Something a column can hold: its key, what it is called on screen, and what its cells are."""

    key: str
    label: str
    hint: str = ""
    holds: Holds = Holds.WORDS


@cache
def _headers() -> dict[str, tuple[str, ...]]:
    """Return the headers that columns go by in several languages, by the column's key."""
    text = files("curehouse.flows.bring_in").joinpath("data/headers.csv").read_text("utf-8")
    return {row["column"]: tuple(row["headers"].split("|")) for row in csv.DictReader(text.splitlines())}


def plain(header: str) -> str:
    """Return a header without case, marks, units, what is in brackets, and punctuation, to be compared."""
    words = [word for word in words_of(outside_brackets(header)) if word != "%"]
    return " ".join(words[:-1] if len(words) > 1 and is_unit(words[-1]) else words)


@cache
def _known(columns: tuple[Column, ...]) -> dict[str, Column]:
    """Return columns by what headers call them."""
    return {plain(name): column for column in columns for name in (column.key, column.label, *_headers().get(column.key, ()))}


def misfit(header: str, columns: Sequence[Column]) -> Column | None:
    """Return the column that a header names by its words and not by its unit, if there is one: ``Water (oz)`` is no share."""
    column = _known(tuple(columns)).get(plain(header))
    return None if column is None or fits(unit_in(header, column.holds), column.holds) else column


def guess(headers: Sequence[str], columns: Sequence[Column], remembered: Mapping[str, str]) -> dict[int, str]:
    """Return what each column probably is, by its index; *remembered* (by small letters) beats what is known."""
    known, keys = _known(tuple(columns)), {column.key for column in columns}
    found: dict[int, str] = {}
    for index, header in enumerate(headers):
        told = remembered.get(" ".join(header.lower().split())[:120])
        column = known.get(plain(header)) or known.get(plain(bare_price(header)))
        key = told or ""
        if told is None and column is not None and misfit(header, columns) is None:
            key = column.key
        if key == "price" and "unit_price" in keys and per_in(header):
            key = "unit_price"
        if key in keys and key not in found.values():
            found[index] = key
    return found
