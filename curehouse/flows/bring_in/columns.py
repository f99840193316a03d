"""What a column of a file can be, and how it is known by its header."""

import csv
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from curehouse.flows.bring_in.options import UNIT_WORDS


@dataclass(frozen=True, slots=True)
class Column:
    """Something a column can hold: its key, and what it is called on screen."""

    key: str
    label: str
    hint: str = ""


@cache
def _headers() -> dict[str, tuple[str, ...]]:
    """Return the headers that columns go by in several languages, by the column's key."""
    text = files("curehouse.flows.bring_in").joinpath("data/headers.csv").read_text("utf-8")
    return {row["column"]: tuple(row["headers"].split("|")) for row in csv.DictReader(text.splitlines())}


def plain(header: str) -> str:
    """Return a header without case, marks, units in brackets and punctuation, to be compared."""
    words = _words(re.sub(r"[(\[].*?[)\]]", " ", header))
    return " ".join(words[:-1] if len(words) > 1 and words[-1] in UNIT_WORDS else words)


def _words(text: str) -> list[str]:
    folded = "".join(one for one in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(one))
    return re.findall(r"[^\W_]+", folded)


def unit_in(header: str) -> str:
    """Return the unit that a header names for its figures, in brackets or as its last word: ``kg``; or nothing."""
    in_brackets = [word for text in re.findall(r"[(\[](.*?)[)\]]", header) for word in _words(text)]
    named = [word for word in (*in_brackets, *_words(header)[-1:]) if word in UNIT_WORDS]
    return UNIT_WORDS[named[0]] if named else ""


def is_per_unit(header: str) -> bool:
    """Return whether a header says that its prices are those of one unit: ``EUR/kg``, ``price per lb``, ``Preis je kg``."""
    units = "|".join(map(re.escape, UNIT_WORDS))
    return bool(re.search(rf"(/|\bper|\bje|\bpro|\bau|\bpar|\bal)\s*({units})\b", header.casefold()))


def guess(headers: Sequence[str], columns: Sequence[Column], remembered: Mapping[str, str]) -> dict[int, str]:
    """Return what each column probably is, by its index; *remembered* (by small letters) beats what is known."""
    known = {
        plain(name): column.key for column in columns for name in (column.key, column.label, *_headers().get(column.key, ()))
    }
    keys = {column.key for column in columns}
    found: dict[int, str] = {}
    for index, header in enumerate(headers):
        told = remembered.get(" ".join(header.lower().split())[:120])
        key = known.get(plain(header), "") if told is None else told
        if key == "price" and "unit_price" in keys and is_per_unit(header):
            key = "unit_price"
        if key in keys and key not in found.values():
            found[index] = key
    return found
