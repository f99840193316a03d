"""Prices: figures, the currency that stands with them or in their header, and per how much they are."""

import csv
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib.resources import files

from curehouse.common.tables import Cell, Figure
from curehouse.common.units import LARGEST_G
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.days import SPACES
from curehouse.flows.bring_in.header_units import (
    PERCENT,
    PIECES,
    PIECES_WORDS,
    in_brackets,
    is_unit,
    outside_brackets,
    words_of,
)
from curehouse.flows.bring_in.options import UNIT_WORDS, UNITS
from inventory.models import Material

_WORD = r"[^\d.,'\s+-]{1,5}\.?"
_MONEY = re.compile(rf"({_WORD})?\s*([+-]?[0-9][0-9.,' ]*)\s*({_WORD})?")
_SIGN = re.compile(r"(?:\b(?:US|CA|C|AU|A|NZ|MX|R))?[$€£¥₺₪₹₽₴₩₫฿₱]")
# A word behind the first says per how much a price is, whatever it is; behind the others only where it is a unit.
_PER = re.compile(
    r"(?:(?P<surely>\b(?:per|je|pro)\b)|/|\b(?:par|au|aux|al|por|for|für|pour|za|na)\b)\s*(?P<many>[0-9][0-9 .,']*)?\s*"
    r"(?P<unit>fl\.?\s*oz\b|[^\W\d_]+)"
)
_ONE = frozenset({"unit", "item", "each", "einheit", "unité", "unità", "unidad"})
_WHOLE = frozenset({"lot", "batch", "order", "delivery", "total", "all", "charge", "lieferung", "amount"})


@cache
def _currencies() -> tuple[frozenset[str], dict[str, frozenset[str]]]:
    """Return the codes of ISO 4217, and which of them a mark (in capitals) stands for: ``KR`` for several."""
    text = files("curehouse.flows.bring_in").joinpath("data/currencies.csv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    marks: dict[str, set[str]] = {}
    for row in rows:
        for mark in filter(None, row["marks"].upper().split("|")):
            marks.setdefault(mark, set()).add(row["code"])
    return frozenset(row["code"] for row in rows), {mark: frozenset(codes) for mark, codes in marks.items()}


@dataclass(frozen=True, slots=True)
class Per:
    """Of how much a price is: a number of g, kg, oz, lb or pieces; of a unit that is not known as it stands.

    An empty unit is the one in which the amount is given.
    """

    number: Decimal
    unit: str

    def __str__(self) -> str:
        return " ".join(one for one in (f"{self.number:f}" if self.number != 1 else "", self.unit) if one)

    @property
    def is_known(self) -> bool:
        """Return whether it is a unit the house knows."""
        return self.unit in ("", PIECES) or self.unit in UNITS

    def of(self, measure: str, *, otherwise: Decimal) -> Decimal:
        """Return how many grams or pieces that is, *otherwise* being one of the amount's own unit.

        Raises :class:`CellFault` where the price is per piece of what is weighed, or the other way round.
        """
        if not self.unit:
            return self.number * otherwise
        if (self.unit == PIECES) != (measure == Material.Measure.PIECES):
            kept = "in pieces" if measure == Material.Measure.PIECES else "in grams"
            raise CellFault(f"is a price per {self} by its header, and this material is counted {kept}")
        return self.number if self.unit == PIECES else self.number * UNITS[self.unit]


_HUNDREDTHS = re.compile(r"(?<![^\W\d_])(?:ct|cts|cents?|pence|centimes?|céntimos?|groszy|gr(?=/))(?![^\W\d_])", re.IGNORECASE)


def per_in(header: str) -> Per | None:
    """Return of how much a header says its prices are: ``EUR/kg``, ``price per 100 g``, ``Preis je Stück``; or None."""
    for found in _PER.finditer(header.casefold()):
        word, many = words_of(found["unit"])[0], found["many"]
        if found["unit"] in _WHOLE or not (found["surely"] or is_unit(word) or found["unit"] in _ONE):
            continue
        return _per(many, "" if found["unit"] in _ONE else _unit(found["unit"], word))
    for text in (*in_brackets(header), outside_brackets(header)):
        words = words_of(text)
        unit, before = (words[-1], words[:-1]) if words else ("", [])
        if is_unit(unit) and unit != PERCENT and (before or text in in_brackets(header)):
            many = [word for word in before[-2:] if word.isdecimal()]
            return _per(",".join(many), _unit(unit, unit))
    return None


def bare_price(header: str) -> str:
    """Return a header without its currency and per how much its prices are: ``price`` of ``price EUR per kg``."""
    bare = _PER.sub(" ", header.casefold()) if per_in(header) else header
    return " ".join(word for word in bare.split() if word.upper() != currency_in(header))


def _per(many: str | None, unit: str) -> Per:
    digits = (many or "1").replace(" ", "")
    # What can be read two ways (1,000 g) is handed on as a unit that nobody knows.
    return Per(Decimal(digits), unit) if digits.isdecimal() and int(digits) else Per(Decimal(1), f"{digits} {unit}")


def _unit(as_written: str, word: str) -> str:
    return PIECES if as_written in PIECES_WORDS else UNIT_WORDS.get(word, word)


@dataclass(frozen=True, slots=True)
class PriceHeader:
    """What the header of a column says of its prices."""

    currency: str = ""
    per: Per | None = None


def price_header(header: str) -> PriceHeader:
    """Return what a header says of the prices beneath it."""
    return PriceHeader(currency_in(header), per_in(header))


def currency_in(header: str) -> str:
    """Return the currency that a header names: a sign anywhere, a word in brackets or at an end; or nothing."""
    sign = _SIGN.search(header)
    if sign is not None:
        return sign[0].upper()
    small = _HUNDREDTHS.search(header)
    if small is not None:
        # A hundred times too dear as it stands: no currency of any workshop, and so refused in words.
        return small[0].upper()
    codes, marks = _currencies()
    ends = outside_brackets(_PER.sub(" ", header)).split()
    for text in (*in_brackets(header), *ends[1:][-1:]):
        for word in re.findall(r"[^\W\d_]+\.?", text.partition("/")[0]):
            if word in codes or (word.upper() in marks and not word.isupper()):
                return word.upper()
    return ""


@dataclass(frozen=True, slots=True)
class Money:
    """A price and the currency that stands with it, if one does."""

    number: Decimal
    currency: str

    def in_currency(self, currency: str) -> Decimal:
        """Return the figure; raises :class:`CellFault` where it is in another currency."""
        _codes, marks = _currencies()
        if self.currency not in ("", currency) and currency not in marks.get(self.currency, ()):
            raise CellFault(f"is in another currency than the workshop's, {currency}: say it in that one")
        return self.number


def read_money(cells: Cells, cell: Cell, header: PriceHeader) -> Money:
    """Read a price; its currency stands with it or in its header."""
    currency = ""
    if isinstance(cell, Figure):
        cell, currency = cell.number, cell.before or cell.behind
    elif isinstance(cell, str):
        match = _MONEY.fullmatch(cell.translate(SPACES).strip())
        if match is not None and (match[1] or match[3]):
            cell, currency = match[2].strip(), match[1] or match[3]
    number = cells.number(cell)
    if not 0 <= number <= LARGEST_G:
        raise CellFault(f"is not between 0 and {LARGEST_G}: check the figure")
    return Money(number, currency.upper() or header.currency)
