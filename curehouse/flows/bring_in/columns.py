"""What a column of a file can be, and how it is known by its header."""

import csv
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


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
    bare = re.sub(r"[(\[].*?[)\]]", " ", header)
    folded = "".join(one for one in unicodedata.normalize("NFKD", bare.casefold()) if not unicodedata.combining(one))
    return " ".join(re.findall(r"[^\W_]+", folded))


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
        if key in keys and key not in found.values():
            found[index] = key
    return found
