"""One cell of a table into a number, a day, a mass: or the sentence that says why it is none.

Nothing is guessed: a figure or a day that can be read two ways is asked about, unless other cells
of the file show which way is meant.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal

from curehouse.common.tables import Cell, Figure, Unreadable, looks_like_formula
from curehouse.flows.bring_in.days import CellFault, is_in_some_order, read_moment
from curehouse.flows.bring_in.figures import bounded, number_in, parted
from curehouse.flows.bring_in.header_units import DAY_WORDS, PERCENT, PIECES, PIECES_WORDS, WEEK_WORDS, WEEKS, Holds, fits
from curehouse.flows.bring_in.options import UNIT_WORDS, UNITS, Options

_BARS_WORDS = PIECES_WORDS | {"bars", "bar"}
_YES = {"yes", "y", "true", "1", "x", "ja", "j", "oui", "si", "sí"}
_NO = {"no", "n", "false", "0", "nein", "non"}
_MILLIGRAM = Decimal("0.001")


def _as_text(cell: Cell, *, many_lines: bool) -> str:
    if isinstance(cell, str):
        return cell.strip() if many_lines else " ".join(cell.split())
    if cell is None:
        return ""
    if isinstance(cell, Decimal):
        return f"{cell.normalize():f}"
    if isinstance(cell, Figure):
        if not cell.written and cell.behind != PERCENT:
            said = "is shown by a number format that is not known here: make the column text, and type it as it is shown"
            raise CellFault(said)
        return cell.written or bare_number(cell)
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return cell.isoformat()


def bare_number(cell: Cell) -> str:
    """Return the number of a cell without what its format shows around it, or nothing where it shows nothing."""
    return f"{cell.number.normalize():f}{PERCENT if cell.behind == PERCENT else ''}" if isinstance(cell, Figure) else ""


@dataclass(frozen=True, slots=True)
class Cells:
    """Reads cells as *options* say; ``decimal`` is the mark that is meant, or empty where none is known."""

    options: Options
    decimal: str = ""

    def text(self, cell: Cell, *, longest: int = 120, many_lines: bool = False) -> str:
        """Return words; a number is taken as it is written."""
        if isinstance(cell, Unreadable):
            raise CellFault(cell.why)
        text = _as_text(cell, many_lines=many_lines)
        if looks_like_formula(text):
            raise CellFault("begins like a formula, which a spreadsheet would run: type plain words")
        if len(text) > longest:
            raise CellFault(f"has {len(text)} characters: keep it to {longest}")
        if not text.replace("\n", "").replace("\t", "").isprintable():
            raise CellFault("holds characters that cannot be shown: type it again")
        return text

    def name(self, cell: Cell, *, longest: int = 120) -> str:
        """Return a name; one that is a day is the same however the day is written."""
        text = self.text(cell, longest=longest)
        if not is_in_some_order(text):
            return text
        if not self.options.date_order:
            raise CellFault("is a name that is a day, and can be read day first or month first: say which")
        try:
            return read_moment(text, self.options.date_order).isoformat()
        except CellFault:
            return text

    def _parts(self, cell: Cell) -> tuple[Decimal, str]:
        """Return a number and what stands behind it."""
        if isinstance(cell, Unreadable):
            raise CellFault(cell.why)
        if isinstance(cell, Decimal):
            return bounded(cell), ""
        if isinstance(cell, Figure):
            return bounded(cell.number), (cell.behind or cell.before).rstrip(".").lower()
        if not isinstance(cell, str):
            raise CellFault("is no number: type figures")
        found = parted(cell)
        if found is None:
            raise CellFault("is no number: type figures, like 118.6")
        return bounded(number_in(found[0], self.decimal)), found[1]

    def number(self, cell: Cell, *, units: Collection[str] = ()) -> Decimal:
        """Return a number without a unit, or with one of *units*, which change nothing about it."""
        number, behind = self._parts(cell)
        if behind and behind not in units:
            raise CellFault("is more than a number: type figures only")
        return number

    def whole(self, cell: Cell, *, most: int) -> int:
        """Return a whole number of things from 1 to *most*."""
        number = self.number(cell, units=_BARS_WORDS)
        if number != number.to_integral_value() or not 1 <= number <= most:
            raise CellFault(f"is no whole number from 1 to {most}")
        return int(number)

    def days(self, cell: Cell, *, unit: str = "") -> Decimal:
        """Return a number of days, seven for a week; *unit* is what the header says they are."""
        if unit not in DAY_WORDS | {"", WEEKS}:
            raise CellFault(f"is counted in “{unit[:20]}” by its header: count days, or give dates")
        number, behind = self.number(cell, units=DAY_WORDS | WEEK_WORDS), self._parts(cell)[1]
        return number * 7 if (behind or unit) in WEEK_WORDS else number

    def grams(
        self,
        cell: Cell,
        *,
        unit: Cell = None,
        most: Decimal = Decimal(999_999),
        or_none: bool = False,
        rounding: str = ROUND_HALF_EVEN,
    ) -> Decimal:
        """Return a mass in grams, to the milligram; its unit stands behind it, in *unit*, or in the options.

        Above 0 g, or 0 g too where *or_none* says so.
        """
        number, behind = self._parts(cell)
        told = self._told(behind, unit)
        name = UNIT_WORDS.get(told) if told else self.options.unit
        if name is None:
            raise CellFault(f"has a unit that is not known, “{told[:20]}”: use g, kg, oz or lb")
        grams = (number * UNITS[name]).quantize(_MILLIGRAM, rounding=rounding)
        if not (0 < grams <= most or (or_none and grams == 0)):
            raise CellFault(f"is not above 0 g and up to {most:f} g: check the figure and its unit")
        return grams

    def _told(self, behind: str, unit: Cell) -> str:
        """Return the unit of a cell: the one that stands behind its figures, or *unit*."""
        return behind or ("" if unit is None else self.text(unit).rstrip(".").lower())

    def measured(self, cell: Cell, *, unit: Cell = None) -> tuple[Decimal, str]:
        """Return a number and its unit (g, kg, oz, lb or pieces), which stands behind it or in *unit*, or is empty."""
        number, behind = self._parts(cell)
        told = self._told(behind, unit)
        if told in PIECES_WORDS:
            return number, PIECES
        if told and told not in UNIT_WORDS:
            raise CellFault(f"has a unit that is not known, “{told[:20]}”: use g, kg, oz, lb or pieces")
        return number, UNIT_WORDS.get(told, "")

    def per_cent(self, cell: Cell, *, unit: Cell = None, holds: Holds = Holds.PER_CENT) -> tuple[Decimal, bool]:
        """Return a number, and whether it is said to be per cent, behind it or by *unit*; of another unit it is refused."""
        number, behind = self._parts(cell)
        told = self._told(behind, unit)
        if not fits(told, holds):
            said = f"is no share of the whole, but in “{told[:20]}”"
            raise CellFault(f"{said}: type per cent, like 31 %, or leave its column out")
        return number, behind == PERCENT

    def share_of_fats(self, cell: Cell, *, unit: Cell = None) -> Decimal | None:
        """Return the share of the fats that a cell says, or None where it says something else than per cent."""
        number, behind = self._parts(cell)
        told = self._told(behind, unit)
        return number / 100 if told.startswith(PERCENT) and fits(told, Holds.PART) else None

    def share(self, cell: Cell, *, unit: Cell = None) -> Decimal:
        """Return a share of the whole, between 0 and 1."""
        number, is_percent = self.per_cent(cell, unit=unit, holds=Holds.BAR_SHARE)
        # No bar holds less than one per cent of water: a figure above one is per cent, one below it a part of one.
        if is_percent or self.options.share_in == "percent" or (not self.options.share_in and number > 1):
            number /= 100
        if not 0 < number < 1:
            raise CellFault("is no share of the whole: it lies between 0 and 100 %")
        return number.quantize(Decimal("0.0001"))

    def day(self, cell: Cell) -> date:
        """Return a day."""
        found = self.moment(cell)
        return found.date() if isinstance(found, datetime) else found

    def moment(self, cell: Cell) -> date | datetime:
        """Return a day, or a day with a time on the workshop's clock."""
        if isinstance(cell, Unreadable):
            raise CellFault(cell.why)
        return read_moment(cell, self.options.date_order)

    def yes(self, cell: Cell) -> bool | None:
        """Return yes or no, or None where nothing stands."""
        if cell is None:
            return None
        word = self.text(cell).casefold()
        if word in _YES:
            return True
        if word in _NO:
            return False
        raise CellFault("is neither yes nor no: use yes or no")
