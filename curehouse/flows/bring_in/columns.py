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
def _known(columns: tuple[Column, ...]) -> dict[str, tuple[Column, ...]]:
    """Return columns by what headers call them; some words stand for several."""
    found: dict[str, tuple[Column, ...]] = {}
    for column in columns:
        for name in {plain(name) for name in (column.key, column.label, *_headers().get(column.key, ()))}:
            found[name] = (*found.get(name, ()), column)
    return found


def _called(header: str, columns: tuple[Column, ...]) -> tuple[Column, ...]:
    known = _known(columns)
    return known.get(plain(header)) or known.get(plain(bare_price(header))) or ()


def could_be(header: str, columns: Sequence[Column]) -> tuple[Column, ...]:
    """Return the columns that a header may be meant as, where its words stand for several; none where they do not."""
    called = _called(header, tuple(columns))
    return called if len(called) > 1 else ()


def misfit(header: str, columns: Sequence[Column]) -> Column | None:
    """Return the column that a header names by its words and not by its unit, if there is one: ``Water (oz)`` is no share."""
    called = _known(tuple(columns)).get(plain(header), ())
    return called[0] if len(called) == 1 and not fits(unit_in(header, called[0].holds), called[0].holds) else None


def guess(headers: Sequence[str], columns: Sequence[Column], remembered: Mapping[str, str]) -> dict[int, str]:
    """Return what each column probably is, by its index; *remembered* (by small letters) beats what is known."""
    every, keys = tuple(columns), {column.key for column in columns}
    found: dict[int, str] = {}
    several: dict[int, tuple[Column, ...]] = {}
    for index, header in enumerate(headers):
        told = remembered.get(" ".join(header.lower().split())[:120])
        called = _called(header, every)
        if told is None and len(called) > 1:
            several[index] = called
            continue
        key = told or ""
        if told is None and called and misfit(header, columns) is None:
            key = called[0].key
        if key == "price" and "unit_price" in keys and per_in(header):
            key = "unit_price"
        if key in keys and key not in found.values():
            found[index] = key
    # A word for two columns is the one that no other header names: a lot beside a batch is the supplier's.
    for index, called in several.items():
        left = [column.key for column in called if column.key not in found.values()]
        if len(left) == 1:
            found[index] = left[0]
    return found
