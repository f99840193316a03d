"""A standing rule for one material: at which level to order, and how much, by what each choice costs a year.

The position is what is here and on order, less what waits and what planned runs take. It is looked at
each day; at or below the level so many lots are ordered as lift it above. All costs are worked out from
the distribution of use over the days of a delivery, with the position even between level and level
plus order.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.besides import besides_planned
from curehouse.core.stock.reorder.compound import mixed, on_grid, reach, transform
from curehouse.core.stock.reorder.things import Costs, Item
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS, Floats, Rate, Season, Sizes

CELLS = 512
# Every so manieth place of the grid is asked about as a level: what a year costs is flat about the best one.
LEVEL_CELLS = 4
# Nobody buys for longer, whatever it saves (our own choice, no source).
MOST_COVER_DAYS = 730.0
MOST_LOTS = 28


@dataclass(frozen=True, slots=True)
class Rule:
    """A level for each month and how much is ordered at once, with the cost of a year that is expected."""

    levels: tuple[float, ...]
    order: float
    cost: float


@dataclass(frozen=True, slots=True)
class Unit:
    """What a year at one pace comes to, for each level of a grid.

    Orders; batches late, and the days they wait; what lies in the mean; what is thrown away; how often nothing
    is left because all expired.
    """

    orders: float
    late: Floats
    waited: Floats
    lying: Floats
    wasted: Floats
    bare: Floats


class Pace:
    """The distributions of use from some days on: over a delivery, and over a delivery and a life."""

    def __init__(
        self, item: Item, rate: Rate, sizes: Sizes, lead: LeadTime, *, before: Floats, till_expiry: Floats, a_day: float
    ) -> None:
        """Work the distributions out.

        *before*, *till_expiry*: even days of use before a delivery comes and until it expires, for each case and
        each number of days that it may take; *a_day*: even days of use that a day comes to.
        """
        self.item, self.sizes = item, sizes
        chances = np.asarray(lead.chances)
        self.delivery = float(np.arange(lead.first_day, lead.first_day + len(chances)) @ chances)
        cases = np.tile(chances / len(before), len(before))
        self.batches_a_day = rate.mean() * a_day
        self.cell = max(reach(rate, sizes, before, 5), 4 * float(sizes.sizes.max())) / CELLS
        one = on_grid(sizes, self.cell, CELLS)
        wide = 2 * CELLS
        used = mixed(transform(np.concatenate([one, np.zeros(CELLS)])), rate, before.ravel(), cases, wide)
        self.levels: Floats = np.arange(0, CELLS, LEVEL_CELLS, dtype=np.float64) * self.cell
        self.late = Curve(self.cell, np.maximum(1 - np.cumsum(np.convolve(used, one)[:wide]), 0.0))
        self.short = Curve(self.cell, _beyond(used, self.cell))
        self.mean_used = float(np.arange(wide) @ used) * self.cell
        cell = max(reach(rate, sizes, till_expiry, 6), 4 * float(sizes.sizes.max())) / CELLS
        used = mixed(transform(on_grid(sizes, cell, CELLS)), rate, till_expiry.ravel(), cases, CELLS)
        self.unused = Curve(cell, np.concatenate([[0.0], np.cumsum(np.cumsum(used))[:-1] * cell]), slope=1.0)
        self.used_up = Curve(cell, np.minimum(np.cumsum(used), 1.0))
        self.undershoots = undershoots(sizes)

    def year(self, lot: float) -> Unit:
        """Return what a year comes to with orders of *lot*, for each of ``levels``."""
        low, high = self.levels, self.levels + lot
        short = self.short.mean(low, high)
        # An order is given when the position has come below the level by part of a use, or when nothing is left
        # because the one before expired: that happens after a share of orders that depends on itself.
        after = high[:, None] - self.undershoots
        ends_bare = self.used_up(np.maximum(lot - self.undershoots, 0.0)).mean()
        again_bare = self.used_up(np.maximum(lot - low, 0.0))
        bare = ends_bare / (1 + ends_bare - again_bare)
        wasted = (self.unused(after) - self.unused(np.maximum(after - lot, 0.0))).mean(axis=1)
        wasted = np.clip((1 - bare) * wasted + bare * self.unused(np.array(lot)), 0.0, 0.95 * lot)
        a_year = self.batches_a_day * YEAR_DAYS
        late = self.late.mean(low, high) * a_year
        orders = a_year * self.sizes.mean() / (lot - wasted)
        return Unit(
            orders=orders,
            late=late,
            waited=short / self.sizes.mean() * YEAR_DAYS + late,
            lying=(low + high) / 2 - self.mean_used + short,
            wasted=wasted * orders,
            bare=orders * bare,
        )

    def cost(self, lot: float, costs: Costs) -> Floats:
        """Return what a year costs with orders of *lot*, for each of ``levels``."""
        unit, item = self.year(lot), self.item
        nothing_here = self.batches_a_day * self.delivery * (costs.late_batch + costs.late_day * self.delivery / 2)
        cost: Floats = (
            unit.late * costs.late_batch
            + unit.waited * costs.late_day
            + unit.lying * item.price * costs.holding_rate
            + unit.wasted * item.price
            + unit.orders * item.order_cost
            + unit.bare * nothing_here
        )
        return cost


class Curve:
    """A function on a grid from 0 on, with its mean between two places; beyond the grid it goes on straight."""

    def __init__(self, cell: float, values: Floats, *, slope: float = 0.0) -> None:
        self.cell, self.values, self.slope = cell, values, slope
        self.end = (len(values) - 1) * cell
        self.areas = np.concatenate([[0.0], np.cumsum((values[1:] + values[:-1]) / 2 * cell)])

    def __call__(self, at: Floats) -> Floats:
        """Return the values at places."""
        inside = np.minimum(at, self.end)
        whole = np.minimum((inside / self.cell).astype(np.int64), len(self.values) - 2)
        part = inside / self.cell - whole
        found: Floats = self.values[whole] * (1 - part) + self.values[whole + 1] * part + (at - inside) * self.slope
        return found

    def _area(self, at: Floats) -> Floats:
        inside = np.minimum(at, self.end)
        whole = np.minimum((inside / self.cell).astype(np.int64), len(self.values) - 2)
        part = inside - whole * self.cell
        rise = (self.values[whole + 1] - self.values[whole]) / self.cell
        beyond = at - inside
        tail = self.values[-1] * self.slope * beyond + self.slope * beyond**2 / 2
        area: Floats = self.areas[whole] + part * (self.values[whole] + rise * part / 2) + tail
        return area

    def mean(self, low: Floats, high: Floats) -> Floats:
        """Return the mean between *low* and *high*; nothing where they are one, for it counts for nothing then."""
        wide = high - low
        mean: Floats = (self._area(high) - self._area(low)) / np.where(wide > 0, wide, 1.0)
        return mean


def undershoots(sizes: Sizes, points: int = 8) -> Floats:
    """Return by how much the position has fallen below the level when it is seen: the rest of a use, at even chances."""
    order = np.argsort(sizes.sizes)
    size, chance = sizes.sizes[order], sizes.chances[order]
    grid = np.linspace(0.0, float(size[-1]), 257)
    beyond = 1 - np.concatenate([[0.0], np.cumsum(chance)])[np.searchsorted(size, grid, side="right")]
    reached = np.concatenate([[0.0], np.cumsum((beyond[1:] + beyond[:-1]) / 2)])
    found: Floats = np.interp((np.arange(points) + 0.5) / points, reached / reached[-1], grid)
    return found


def _beyond(used: Floats, cell: float) -> Floats:
    """Return the expected quantity used beyond each place of the grid."""
    above = np.maximum(1 - np.cumsum(used), 0.0) * cell
    beyond: Floats = np.concatenate([np.cumsum(above[::-1])[::-1], [0.0]])[: len(used)]
    return beyond


def standing_rule(item: Item, rate: Rate, sizes: Sizes, season: Season, lead: LeadTime, costs: Costs) -> Rule:
    """Return the levels of the twelve months to come, January first, and the order size that cost least.

    What is planned of the material is not expected a second time; files say nothing of when runs were announced.
    """
    ahead = np.arange(1, int(YEAR_DAYS) + item.life_days + len(lead.chances) + lead.first_day + 3)
    factor = season.at(ahead)
    still_open = np.diff(besides_planned(factor, np.zeros(0), rate, sizes, item.planned))
    months = season.months(np.arange(0, int(YEAR_DAYS)))
    paces = [_pace(item, rate, sizes, lead, factor, still_open, np.flatnonzero(months == month)) for month in range(12)]
    lots = _lots(item, rate.mean() * sizes.mean() * float(factor[: int(YEAR_DAYS)].sum()))
    found = [[pace.cost(lot, costs) for pace in paces] for lot in lots]
    spent = [sum(float(cost.min()) for cost in of_lot) / 12 for of_lot in found]
    best = int(np.argmin(spent))
    levels = [float(pace.levels[int(np.argmin(cost))]) for pace, cost in zip(paces, found[best], strict=True)]
    return Rule(tuple(levels), lots[best], spent[best])


def _lots(item: Item, a_year: float) -> list[float]:
    """Return the order sizes to choose from."""
    least = max(item.minimum_packs, 1)
    most = max(least, int(np.ceil(a_year * MOST_COVER_DAYS / YEAR_DAYS / item.pack)))
    counts = np.unique(np.round(np.geomspace(least, most, MOST_LOTS)).astype(int)) if most > least else np.array([least])
    return [float(count) * item.pack for count in counts]


def _pace(
    item: Item, rate: Rate, sizes: Sizes, lead: LeadTime, factor: Floats, still_open: Floats, days: NDArray[np.int64]
) -> Pace:
    """Return the pace of a month, from a few of its *days* on."""
    waits = np.maximum(np.arange(lead.first_day, lead.first_day + len(lead.chances)) - 1, 0)
    begin = days[:: max(1, len(days) // 4)]
    open_so_far, so_far = (np.concatenate([[0.0], np.cumsum(one)]) for one in (still_open, factor))
    arrival = np.add.outer(begin, waits)
    expiry = np.minimum(arrival + item.life_days, len(factor))
    return Pace(
        item, rate, sizes, lead,
        before=open_so_far[arrival] - open_so_far[begin][:, None],
        till_expiry=so_far[expiry] - so_far[begin][:, None],
        a_day=float(factor[days].mean()),
    )  # fmt: skip
