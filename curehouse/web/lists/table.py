"""What a list is made of."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.http import QueryDict

from curehouse.common.tables.writing import Value
from curehouse.common.units import from_grams
from curehouse.web.access import Visit
from curehouse.workshops.roles import Right
from inventory.models import Material

Read = Callable[[Visit, QueryDict, int | None], "TableOut"]


@dataclass(frozen=True, slots=True)
class TableOut:
    """The headers of a list and its rows; a header says the unit of its figures."""

    headers: Sequence[str]
    rows: Iterable[Sequence[Value]]


@dataclass(frozen=True, slots=True)
class ListOut:
    """A list that can be taken along: its address below the house's own, without its ending, and how it is read.

    ``path`` may hold ``<int:pk>``; :attr:`read` then gets the key, and answers a stranger's as not here.
    """

    name: str
    path: str
    title: str
    read: Read
    needs: Right


def wall(moment: datetime | None, visit: Visit) -> datetime | None:
    """Return a moment as the workshop's clock shows it, to the second."""
    if moment is None:
        return None
    return moment.astimezone(ZoneInfo(visit.workshop.time_zone)).replace(microsecond=0)


def mass(grams: Decimal | None, visit: Visit) -> Decimal | None:
    """Return grams in the workshop's unit, as exactly as they are kept."""
    return None if grams is None else _plain(from_grams(grams, visit.workshop.unit))


def amount(value: Decimal | None, material: Material, visit: Visit) -> Decimal | None:
    """Return an amount of a material: pieces as they are, grams in the workshop's unit."""
    if value is None or material.measure == Material.Measure.PIECES:
        return None if value is None else _plain(value)
    return mass(value, visit)


def measured_in(material: Material, visit: Visit) -> str:
    """Return the unit of a material's amounts."""
    return "pieces" if material.measure == Material.Measure.PIECES else str(visit.workshop.unit)


def _plain(value: Decimal) -> Decimal:
    rounded = value.quantize(Decimal("0.00001")).normalize()
    return rounded.quantize(Decimal(1)) if rounded == rounded.to_integral_value() else rounded
