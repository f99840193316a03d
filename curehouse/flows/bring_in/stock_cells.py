"""What cells say of stock: amounts in grams or pieces, prices, kinds of material, how a lot stands."""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from curehouse.common.units import LARGEST_G, SMALLEST_G
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.header_units import PIECES
from curehouse.flows.bring_in.lines import Line, Read, choice_of
from curehouse.flows.bring_in.money import Money, read_money
from curehouse.flows.bring_in.options import UNITS
from inventory.models import Lot, Material

_MONTH = re.compile(r"([0-9]{4})-([0-9]{1,2})|([0-9]{1,2})[./]([0-9]{4})")
_Kind, _Standing = Material.Kind, Lot.Standing
_KINDS: dict[str, str] = {
    **{kind.value: kind for kind in _Kind},
    "fats": _Kind.FAT, "oil": _Kind.FAT, "oils": _Kind.FAT, "butter": _Kind.FAT, "fett": _Kind.FAT, "fette": _Kind.FAT,
    "öl": _Kind.FAT, "öle": _Kind.FAT, "huile": _Kind.FAT, "olio": _Kind.FAT, "aceite": _Kind.FAT,
    "naoh": _Kind.LYE, "koh": _Kind.LYE, "lauge": _Kind.LYE, "alkali": _Kind.LYE, "soude": _Kind.LYE,
    "liquids": _Kind.LIQUID, "flüssigkeit": _Kind.LIQUID, "liquide": _Kind.LIQUID, "liquido": _Kind.LIQUID,
    "additives": _Kind.ADDITIVE, "zusatz": _Kind.ADDITIVE, "zusätze": _Kind.ADDITIVE, "additif": _Kind.ADDITIVE,
    "fragrances": _Kind.FRAGRANCE, "scent": _Kind.FRAGRANCE, "essential oil": _Kind.FRAGRANCE, "duft": _Kind.FRAGRANCE,
    "duftstoff": _Kind.FRAGRANCE, "ätherisches öl": _Kind.FRAGRANCE, "parfum": _Kind.FRAGRANCE, "profumo": _Kind.FRAGRANCE,
    "color": _Kind.COLOUR, "colours": _Kind.COLOUR, "colors": _Kind.COLOUR, "pigment": _Kind.COLOUR, "farbe": _Kind.COLOUR,
    "farbstoff": _Kind.COLOUR, "couleur": _Kind.COLOUR, "colorante": _Kind.COLOUR,
    "package": _Kind.PACKAGING, "verpackung": _Kind.PACKAGING, "emballage": _Kind.PACKAGING, "imballaggio": _Kind.PACKAGING,
    "soap": _Kind.BARS, "seife": _Kind.BARS, "seifen": _Kind.BARS,
}  # fmt: skip
_STANDINGS: dict[str, str] = {
    "released": _Standing.RELEASED, "ok": _Standing.RELEASED, "good": _Standing.RELEASED, "freigegeben": _Standing.RELEASED,
    "frei": _Standing.RELEASED, "libéré": _Standing.RELEASED,
    "quarantine": _Standing.QUARANTINE, "in quarantine": _Standing.QUARANTINE, "waiting": _Standing.QUARANTINE,
    "quarantäne": _Standing.QUARANTINE, "in quarantäne": _Standing.QUARANTINE, "quarantaine": _Standing.QUARANTINE,
    "rejected": _Standing.REJECTED, "blocked": _Standing.REJECTED, "gesperrt": _Standing.REJECTED,
    "abgelehnt": _Standing.REJECTED, "rejeté": _Standing.REJECTED,
}  # fmt: skip
KIND_WORDS = ", ".join(kind.label for kind in _Kind)
material_kind: Read = choice_of("material_kind", _KINDS, f"is no kind of material: use {KIND_WORDS}")
standing: Read = choice_of("standing", _STANDINGS, "does not say how the lot stands: use released, quarantine or rejected")


def is_material_kind(word: str) -> bool:
    """Return whether *word* is one by which a kind of material is said."""
    return word.strip().casefold() in _KINDS


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit as it was said: g, kg, oz, lb, pieces, or empty where none was."""

    number: Decimal
    unit: str

    def of(self, measure: str, *, unless_said: str) -> Decimal:
        """Return grams to the milligram, or whole pieces; raises :class:`CellFault` where it is neither."""
        if measure == Material.Measure.PIECES:
            if self.unit not in ("", PIECES):
                raise CellFault("is a weight, and this material is counted in pieces")
            if self.number != self.number.to_integral_value():
                raise CellFault("is no whole number, and this material is counted in pieces")
            found = self.number
        elif self.unit == PIECES:
            raise CellFault("is a number of pieces, and this material is kept in grams: say its weight")
        else:
            found = self.number * UNITS[self.unit or unless_said]
        found = found.quantize(SMALLEST_G)
        if not 0 < found <= LARGEST_G:
            raise CellFault(f"is not above 0 and up to {LARGEST_G}: check the figure and its unit")
        return found

    def one(self, measure: str, *, unless_said: str) -> Decimal:
        """Return how many grams or pieces one of its unit has."""
        return Decimal(1) if measure == Material.Measure.PIECES else UNITS[self.unit or unless_said]

    def in_words(self, *, unless_said: str) -> str:
        """Return the amount with its unit, a mass in grams."""
        said = self.written(unless_said=unless_said)
        return said if self.unit == PIECES else f"{Decimal(said).normalize():f} g"

    def written(self, *, unless_said: str) -> str:
        """Return the amount the same however it was written."""
        if self.unit == PIECES:
            return f"{self.number.normalize():f} {PIECES}"
        return f"{(self.number * UNITS[self.unit or unless_said]).quantize(SMALLEST_G)}"


def amount(cells: Cells, line: Line) -> Amount:
    """Read an amount; its unit stands behind it, in the column for it, or nowhere."""
    number, unit = cells.measured(line.cell("amount"), unit=line.table.unit(line.row, "amount"))
    if number < 0:
        raise CellFault("is less than nothing: check the figure")
    return Amount(number, unit)


def money_of(key: str) -> Read:
    """Return what reads a price: of the whole amount (``price``), or of so much as its header says."""

    def read(cells: Cells, line: Line) -> Money:
        header = line.table.price_header(key)
        if header.per is not None and key == "price":
            raise CellFault(f"is a price per {header.per} by its header: say that its column is the price of one, not of all")
        if header.per is not None and not header.per.is_known:
            raise CellFault(f"is a price per “{header.per}” by its header: say prices per g, kg, oz, lb or piece")
        return read_money(cells, line.cell(key), header)

    return read


def day_of(key: str) -> Read:
    """Return what reads a day."""

    def read(cells: Cells, line: Line) -> date:
        return cells.day(line.cell(key))

    return read


def month_or_day_of(key: str) -> Read:
    """Return what reads a day; a month (05/2027, 2027-05) stands for its last day, as on a label."""

    def read(cells: Cells, line: Line) -> date:
        cell = line.cell(key)
        match = _MONTH.fullmatch(cell.strip()) if type(cell) is str else None
        if match is None:
            return cells.day(cell)
        year, month = (int(match[1]), int(match[2])) if match[1] else (int(match[4]), int(match[3]))
        if not 1 <= month <= 12:
            raise CellFault("is no month of a year: type it like 2027-05")
        return _last_of_month(cells.day(date(year, month, 1)))

    return read


def _last_of_month(first: date) -> date:
    following = first.replace(year=first.year + first.month // 12, month=first.month % 12 + 1)
    return following - timedelta(days=1)
