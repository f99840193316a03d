"""What it is worth to plan runs earlier: less use comes unannounced over a delivery, so less has to lie there for it.

For each material the level that costs least in a year is looked for twice: with use as little announced as it was, and
announced so many days earlier. Money that lies in stock is weighed against batches that wait. Position (what is here
and on its way, less what is planned within a delivery) is taken to lie evenly between the level and the level plus an
order, which is of the same size both times; less that is thrown away is not counted, so the worth is rather too small.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.announced import share_unplanned
from curehouse.core.stock.reorder.compound import mixed, on_grid, reach, transform
from curehouse.core.stock.reorder.fresh import FRESH_DAYS
from curehouse.core.stock.reorder.kept import Kept, Offered, Seller
from curehouse.core.stock.reorder.levels import Curve
from curehouse.core.stock.reorder.sizing import MOST_OF_A_LIFE
from curehouse.core.stock.reorder.things import Costs
from curehouse.core.stock.reorder.unplanned import (
    YEAR_DAYS,
    Floats,
    Rate,
    Season,
    Sizes,
    learn_rate,
    learn_sizes,
)

CELLS = 512
# What was used less often tells no size and no rate that money could be counted by (our own choice, no source).
LEAST_USES = 3


@dataclass(frozen=True, slots=True)
class Bought:
    """A material as it is used and bought: *order* at once, in grams or pieces; ``price`` of one gram or piece."""

    key: str
    rate: Rate
    sizes: Sizes
    lead: LeadTime
    order: float
    price: float


@dataclass(frozen=True, slots=True)
class Notices:
    """How many days before its day each past pour was planned (0: it never was), and how many uses were of no pour.

    What is of no pour is not planned earlier by planning pours earlier.
    """

    pours: Sequence[int]
    others: int = 0

    def unplanned(self, *, earlier_days: int = 0) -> Floats:
        """Return the share of use on each day ahead, tomorrow first, that is not planned yet."""
        return share_unplanned([*(days + earlier_days for days in self.pours), *[0] * self.others])


@dataclass(frozen=True, slots=True)
class AtBest:
    """A material at its best level: what lies there in the mean, batches late for it and the cost of both in a year.

    ``known``: the share of use that is planned when an order for it has to be sent.
    """

    key: str
    level: float
    lying: float
    lying_value: float
    late: float
    cost: float
    known: float


@dataclass(frozen=True, slots=True)
class Worth:
    """What planning so many days earlier comes to, in a year, for each material as it is and as it would be."""

    earlier_days: int
    now: tuple[AtBest, ...]
    then: tuple[AtBest, ...]

    @property
    def a_year(self) -> float:
        """Return what it saves a year."""
        return sum(one.cost for one in self.now) - sum(one.cost for one in self.then)

    @property
    def less_lying(self) -> float:
        """Return by how much less money lies in stock."""
        return sum(one.lying_value for one in self.now) - sum(one.lying_value for one in self.then)

    @property
    def fewer_late(self) -> float:
        """Return by how many fewer batches a year wait for a material."""
        return sum(one.late for one in self.now) - sum(one.late for one in self.then)

    @property
    def known_now(self) -> float:
        """Return the share of use that is planned when an order for it has to be sent, in the mean of the materials."""
        return _mean([one.known for one in self.now])

    @property
    def known_then(self) -> float:
        """Return the same as it would be."""
        return _mean([one.known for one in self.then])


def _mean(shares: Sequence[float]) -> float:
    return sum(shares) / len(shares) if shares else 0.0


def worth_of_earlier(
    bought: Sequence[Bought], notices: Notices, earlier_days: Sequence[int], *, costs: Costs, a_day: float = 1.0
) -> list[Worth]:
    """Return what it is worth to plan every pour so many days earlier, for each of *earlier_days*.

    *a_day*: how many even days of use a day of the year to come is, in the mean.
    """
    grids = [_Grid(one, a_day) for one in bought]
    now = tuple(grid.best(notices.unplanned(), costs) for grid in grids)
    return [
        Worth(days, now, tuple(grid.best(notices.unplanned(earlier_days=days), costs) for grid in grids))
        for days in earlier_days
    ]


def bought_of(
    kept: Sequence[Kept], sellers: Sequence[Seller], season: Season, costs: Costs, *, usual_rate: float
) -> list[Bought]:
    """Return the materials of which enough is known: used ``LEAST_USES`` times, sold by somebody, and kept in stock.

    *usual_rate*: uses a day of a material, in the mean.

    Each is bought where a gram costs least, as often as an order for all of the seller's goods is worth what it costs.
    What does not keep is bought for runs that have their day, and lies for nobody.
    """
    known = [one for one in kept if one.uses]
    a_day = mean_day(season)
    chosen: list[tuple[Kept, Offered, Rate, Sizes, float]] = []
    for one in known:
        offer = min(one.offers, key=lambda offer: offer.price / offer.pack, default=None)
        if len(one.uses) >= LEAST_USES and offer is not None and offer.life_days > FRESH_DAYS:
            rate, sizes = learn_rate(one, season, usual_rate), learn_sizes(one.uses)
            chosen.append((one, offer, rate, sizes, rate.mean() * sizes.mean() * a_day))
    spent: dict[str, float] = {}
    for _one, offer, _rate, _sizes, used in chosen:
        spent[offer.seller] = spent.get(offer.seller, 0.0) + used * YEAR_DAYS * offer.price / offer.pack
    of_key = {seller.key: seller for seller in sellers}
    found = []
    for one, offer, rate, sizes, used in chosen:
        seller = of_key[offer.seller]
        held = max(costs.holding_rate * spent[offer.seller], 1e-9)
        cycle = YEAR_DAYS * float(np.sqrt(2 * (seller.work + seller.freight) / held))
        packs = np.ceil(used * min(cycle, MOST_OF_A_LIFE * offer.life_days, YEAR_DAYS) / offer.pack)
        order = max(float(packs), offer.minimum_packs, 1) * offer.pack
        found.append(Bought(one.key, rate, sizes, offer.lead, order, offer.price / offer.pack))
    return found


def mean_day(season: Season) -> float:
    """Return how many even days of use a day of the year to come is, in the mean."""
    return float(season.at(np.arange(1, int(YEAR_DAYS) + 1)).mean())


class _Grid:
    """A material on the grid of its use over a delivery of which nothing is planned, the same for all that is asked."""

    def __init__(self, one: Bought, a_day: float) -> None:
        self.one, self.a_day = one, a_day
        lead = one.lead
        self.chances = np.asarray(lead.chances, dtype=np.float64)
        # What is ordered today serves tomorrow's use if it is here tomorrow: as in ``levels``.
        self.waits = np.maximum(np.arange(lead.first_day, lead.first_day + len(self.chances)) - 1, 0)
        longest = self.waits.astype(np.float64) * a_day
        most = max(reach(one.rate, one.sizes, longest, 5), 4 * float(one.sizes.sizes.max()))
        self.cell = most / CELLS
        self.sizes = on_grid(one.sizes, self.cell, CELLS)
        self.levels: Floats = np.arange(CELLS, dtype=np.float64) * self.cell

    def best(self, unplanned: Floats, costs: Costs) -> AtBest:
        """Return the level that costs least."""
        one, wide = self.one, 2 * CELLS
        share = np.concatenate([unplanned, np.ones(max(int(self.waits.max()) + 1 - len(unplanned), 0))])
        exposures = np.concatenate([[0.0], np.cumsum(share)])[self.waits] * self.a_day
        used = mixed(transform(np.concatenate([self.sizes, np.zeros(CELLS)])), one.rate, exposures, self.chances, wide)
        above = np.maximum(1 - np.cumsum(used), 0.0)
        short = np.concatenate([np.cumsum((above * self.cell)[::-1])[::-1], [0.0]])[:wide]
        with_one_more = np.maximum(1 - np.cumsum(np.convolve(used, self.sizes)[:wide]), 0.0)
        low, high = self.levels, self.levels + one.order
        # Whoever is not planned when it would have to be ordered finds its own use on top of what went before.
        still_open = min(float(self.chances @ share[self.waits]), 1.0)
        late_share = still_open * Curve(self.cell, with_one_more).mean(low, high)
        late_share += (1 - still_open) * Curve(self.cell, above).mean(low, high)
        late = late_share * one.rate.mean() * self.a_day * YEAR_DAYS
        lacking = Curve(self.cell, short).mean(low, high)
        waited = lacking / one.sizes.mean() * YEAR_DAYS + late
        lying = (low + high) / 2 - float(np.arange(wide) @ used) * self.cell + lacking
        cost = late * costs.late_batch + waited * costs.late_day + lying * one.price * costs.holding_rate
        best = int(np.argmin(cost))
        return AtBest(
            key=one.key,
            level=float(low[best]),
            lying=float(lying[best]),
            lying_value=float(lying[best]) * one.price,
            late=float(late[best]),
            cost=float(cost[best]),
            known=1 - still_open,
        )
