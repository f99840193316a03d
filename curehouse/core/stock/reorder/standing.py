"""How likely what is here and on its way will not do, with what expires meanwhile.

Served first expired first, it does if and only if from every day on what goes is no more than what still keeps
by then: for the first day that is all of it, and then for each day on which something has just expired.
"""

from collections.abc import Sequence

from curehouse.core.stock.reorder.ahead import Asked, over_delivery, totals
from curehouse.core.stock.reorder.candidate import Candidate, Standing
from curehouse.core.stock.reorder.unplanned import Floats


def standings(found: Sequence[Candidate], unplanned: Floats, later_days: Sequence[int]) -> list[Standing]:
    """Return how each stands until an order has come that is sent so many days from now.

    *unplanned* as in :func:`~curehouse.core.stock.reorder.ahead.totals`.
    """
    asked: list[Asked] = []
    keeps: list[list[float]] = []
    for one, later in zip(found, later_days, strict=True):
        days, chances = over_delivery(one.lead, later)
        ends = _ends(one)
        expire = sorted({int(last) for last, _quantity in ends if 0 <= last < days[-1]})
        keeps.append([sum(quantity for last, quantity in ends if last > after) for after in (-1, *expire)])
        asked += [Asked(one.rate, one.sizes, one.kept.planned, days, chances, after) for after in (-1, *expire)]
    answers = iter(totals(asked, unplanned))
    return [Standing(tuple((next(answers), quantity) for quantity in of_one)) for of_one in keeps]


def _ends(one: Candidate) -> list[tuple[float, float]]:
    lots = [(lot.last_day, lot.quantity) for lot in one.kept.lots if lot.last_day >= 0]
    return lots + [(float(coming.days.within(0.5) + coming.life_days), coming.quantity) for coming in one.kept.coming]
