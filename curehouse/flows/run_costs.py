"""What a run costs, and a bar of it, by the lots it would take."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from curehouse.common.units import SMALLEST_G
from curehouse.core.stock.supplied import Taken
from curehouse.flows.check_run import Held
from curehouse.making.services.run_needs import RunNeeds

_CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class CostLine:
    """Grams taken of a material, from lots and from what is on its way, and what they cost; None where nobody knows.

    Of what ``stands_in`` for dry lye so much is kept, a little more than is weighed: no figure to weigh by.
    """

    name: str
    amount_g: Decimal
    cost: Decimal | None
    stands_in: bool = False


@dataclass(frozen=True, slots=True)
class RunCost:
    """What is known of the cost of a run, in the workshop's currency, to the cent.

    ``total`` is None where nothing is known; ``a_bar`` besides where nobody knows how many bars it gives. ``unknown``
    are the names of what goes in and is not in it, and ``short_g`` grams of what no lot or order gives, neither in it.
    """

    total: Decimal | None
    a_bar: Decimal | None
    lines: tuple[CostLine, ...]
    unknown: tuple[str, ...]
    short_g: tuple[tuple[str, Decimal], ...]


def cost_of_run(held: Held, wanted: RunNeeds, *, bars: int | None) -> RunCost:
    """Return what a run that was held against the storeroom costs: each lot by its own cost, an order by its price.

    Water from the tap costs nothing. What is short, not kept in the storeroom, or came without a cost is left out by name.
    """
    lines, short = [], []
    for one in held.found.materials:
        name = held.materials[one.material].name
        if one.likely.takes:
            lines.append(replace(_line(name, one.likely.takes, held), stands_in=one.instead is not None))
        if one.likely.short_g:
            short.append((name, _grams(one.likely.short_g)))
    known = [line.cost for line in lines if line.cost is not None]
    whole = sum(known, Decimal(0))
    outside = [need.name for need in wanted.needs if not need.is_kept and not need.is_tap_water]
    return RunCost(
        total=whole.quantize(_CENT) if known else None,
        a_bar=(whole / bars).quantize(_CENT) if known and bars else None,
        lines=tuple(lines),
        unknown=tuple(dict.fromkeys([*(line.name for line in lines if line.cost is None), *outside])),
        short_g=tuple(short),
    )


def _line(name: str, takes: tuple[Taken, ...], held: Held) -> CostLine:
    paid = list(_paid(takes, held))
    known = [cost * amount_g for amount_g, cost in paid if cost is not None]
    amount_g = sum((amount_g for amount_g, _cost in paid), Decimal(0))
    # Of a material half of whose grams cost nobody knows what, the cost of the other half would mislead.
    return CostLine(name, amount_g, sum(known, Decimal(0)) if len(known) == len(paid) else None)


def _paid(takes: tuple[Taken, ...], held: Held) -> Iterator[tuple[Decimal, Decimal | None]]:
    """Return the grams of each take with what a gram of it costs."""
    for taken in takes:
        lot = held.lots.get(taken.supply)
        if lot is not None:
            yield _grams(taken.amount), lot.unit_cost
            continue
        line = held.arrivals[taken.supply].line
        yield _grams(taken.amount), line.price / line.pack


def _grams(amount_g: float) -> Decimal:
    return Decimal(str(amount_g)).quantize(SMALLEST_G)
