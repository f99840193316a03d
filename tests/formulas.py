"""Formulas as a maker types them, for tests."""

from decimal import Decimal
from typing import Any

from curehouse.making.formulas.entries import FormulaEntry, GoesIn, LineEntry, Per, Role


def fat(key: str, amount: str, per: str = Per.GRAMS, **more: Any) -> LineEntry:
    return LineEntry(Role.FAT, key=key, per=per, amount=Decimal(amount), **more)


def liquid(key: str, amount: str | None, per: str = Per.GRAMS, goes_in: str = GoesIn.FRONT, **more: Any) -> LineEntry:
    return LineEntry(Role.LIQUID, key=key, per=per, amount=None if amount is None else Decimal(amount), goes_in=goes_in, **more)


class _AsShown(tuple):
    """What somebody confirms who was shown that it may be caustic, with whatever figure stood there."""

    def __contains__(self, read_as: object) -> bool:
        return str(read_as).startswith(tuple(self))


READ = _AsShown(("may_be_caustic:", "batch_too_small:"))
FATS = (fat("olive", "700"), fat("coconut", "300"))
LIQUIDS = (liquid("water", "150"), liquid("goat_milk", None, Per.REST, GoesIn.TRACE))


def formula_entry(**changes: Any) -> FormulaEntry:
    """Return a milk soap of 1,000 g of fats: 320 g of liquid, 150 g of it water in front, goat's milk at trace."""
    lines = changes.pop("lines", (*FATS, *LIQUIDS))
    kept = {"name": "Goat's milk", "superfat": Decimal("0.06"), "liquid": Decimal(320)}
    return FormulaEntry(**{**kept, "confirmed": READ, **changes, "lines": lines})
