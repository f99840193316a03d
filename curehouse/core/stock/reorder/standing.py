"""How likely what is here and on its way will not do, with what expires meanwhile.

Served first expired first, it does if and only if from every day on what goes is no more than what still keeps
by then: for the first day that is all of it, and then for each day on which something has just expired.
"""

from collections.abc import Sequence

from curehouse.core.stock.reorder.ahead import Asked, over_deliveries, totals_of_each
from curehouse.core.stock.reorder.candidate import Candidate, Standing
from curehouse.core.stock.reorder.unplanned import Floats


def standings(found: Sequence[Candidate], later_days: Sequence[int]) -> list[Standing]:
    """Return how each stands until an order has come that is sent so many days from now."""
    return [stands for (stands,) in standings_later(found, [(later,) for later in later_days])]


def standings_later(found: Sequence[Candidate], later_days: Sequence[Sequence[int]]) -> list[list[Standing]]:
    """Return how each stands until an order has come that is sent on any of some days from now, which go up."""
    asked: list[Asked] = []
    unplanned: list[Floats] = []
    # Of each and each of its days: what keeps beyond which day.
    keeps: list[list[dict[int, float]]] = []
    afters: list[list[int]] = []
    for one, later in zip(found, later_days, strict=True):
        days, chances = over_deliveries(one.lead, later)
        last_days = [int(days[-1]) - later[-1] + more for more in later]
        keeps.append([_keep(one, last) for last in last_days])
        afters.append(sorted({after for of_day in keeps[-1] for after in of_day}))
        asked += [Asked(one.rate, one.sizes, one.kept.planned, days, chances, after) for after in afters[-1]]
        unplanned += [one.unplanned] * len(afters[-1])
    answers = iter(totals_of_each(asked, unplanned))
    told = [{after: next(answers) for after in of_one} for of_one in afters]
    return [
        [
            Standing(tuple((of_one[after][place], quantity) for after, quantity in of_day.items()))
            for place, of_day in enumerate(of_days)
        ]
        for of_one, of_days in zip(told, keeps, strict=True)
    ]


def _keep(one: Candidate, last_day: int) -> dict[int, float]:
    """Return what keeps from now on (-1) and beyond each day before *last_day* on which something expires."""
    ends = _ends(one, by=last_day)
    expire = sorted({int(last) for last, _quantity in ends if 0 <= last < last_day})
    return {after: sum(quantity for last, quantity in ends if last > after) for after in (-1, *expire)}


def _ends(one: Candidate, by: int) -> list[tuple[float, float]]:
    """Return the last day and the quantity of each lot, and of what is on its way and likely here *by* a day."""
    lots = [(lot.last_day, lot.quantity) for lot in one.kept.lots if lot.last_day >= 0]
    likely = [(coming.days.within(0.5), coming) for coming in one.kept.coming]
    return lots + [(float(day + coming.life_days), coming.quantity) for day, coming in likely if day <= by]
