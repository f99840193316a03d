"""How many packs to buy at once: what makes a gram that is really used cheapest.

An order costs its share of what the seller asks for coming at all, its goods, and the money that lies in
them. What expires unused makes what is used the dearer, so minimum orders, packs, cheaper prices from so
many packs on and shelf life are all weighed by one formula.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curehouse.core.stock.reorder.ahead import Total
from curehouse.core.stock.reorder.kept import Offered
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS, Floats

# Nobody fills shelves for longer, however cheap: recipes, labels and prices change (common practice, no source).
MOST_COVER_DAYS = 365.0
MOST_CHOICES = 40
# Until the risk clears, more is bought than is cheapest up to this share of a life (common practice, no source).
MOST_OF_A_LIFE = 0.6


@dataclass(frozen=True, slots=True)
class Size:
    """So many packs, what a used gram or piece costs then, and how much of them is expected to be used in time."""

    packs: int
    cost: float
    used: float


def choices(offer: Offered, a_day: float) -> list[int]:
    """Return the numbers of packs to choose from: each where they are few, more sparsely where they are many."""
    least = max(offer.minimum_packs, 1)
    most = max(least, int(np.ceil(a_day * MOST_COVER_DAYS / offer.pack)))
    counts = {round(float(count)) for count in np.geomspace(least, most, MOST_CHOICES)} | {least, most}
    return sorted(counts | {packs for packs, _price in offer.breaks if least <= packs <= most})


def sizes_of(
    offer: Offered,
    packs: Sequence[int],
    *,
    in_its_life: Total,
    here: float,
    a_day: float,
    share_of_order: float,
    holding_rate: float,
) -> list[Size]:
    """Return what each number of *packs* comes to.

    Parameters
    ----------
    in_its_life
        What is used from today until what is ordered expires.
    here
        What is here and on its way, which is used first.
    a_day
        What is used a day, to tell how long money lies in the goods.
    share_of_order
        What this material bears of what an order costs beside its goods.
    """  # fmt: skip
    count = np.asarray(packs, dtype=np.float64)
    bought: Floats = count * offer.pack
    used = np.maximum(in_its_life.taken(max(here, 0.0), bought), 1e-9)
    price = np.array([offer.pack_price(n) for n in packs]) * count
    lies_days = np.minimum(bought / max(a_day, 1e-12), float(offer.life_days))
    cost = (share_of_order + price + holding_rate * price * lies_days / (2 * YEAR_DAYS)) / used
    return [Size(n, float(c), float(u)) for n, c, u in zip(packs, cost, used, strict=True)]


def cheapest(sizes: Sequence[Size]) -> Size:
    """Return the size with the least cost of what is used; of equals the smaller."""
    return min(sizes, key=lambda size: (size.cost, size.packs))
