"""What an order comes to: its goods, the hazard surcharge, the freight, and how far it is to free freight."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

CENT = Decimal("0.01")


class Terms(Protocol):
    """What a supplier asks beside the goods: a supplier's terms now, or an order's as they were when it was sent."""

    freight: Decimal | None
    free_freight_from: Decimal | None
    hazard_surcharge: Decimal | None


class Line(Protocol):
    """So many packs at a price each."""

    packs: int
    price: Decimal
    is_hazardous: bool


@dataclass(frozen=True, slots=True)
class Totals:
    """Money in the workshop's currency; ``to_free_freight`` is None where there is no such line, or no freight."""

    goods: Decimal
    surcharge: Decimal
    freight: Decimal
    to_free_freight: Decimal | None

    @property
    def all(self) -> Decimal:
        """Return what the order comes to."""
        return self.goods + self.surcharge + self.freight


def line_total(line: Line) -> Decimal:
    """Return what a line costs, to the cent."""
    return (line.packs * line.price).quantize(CENT)


def totals_of(lines: Iterable[Line], terms: Terms) -> Totals:
    """Return what these lines come to; the surcharge comes once, with anything hazardous among them."""
    asked = list(lines)
    goods = sum((line_total(one) for one in asked), Decimal(0))
    surcharge = terms.hazard_surcharge if any(one.is_hazardous for one in asked) else None
    freight = terms.freight if asked else None
    to_free = None
    if freight and terms.free_freight_from is not None:
        to_free = max(terms.free_freight_from - goods, Decimal(0))
        freight = freight if to_free else None
    return Totals(goods, surcharge or Decimal(0), freight or Decimal(0), to_free)
