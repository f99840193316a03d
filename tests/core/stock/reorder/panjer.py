"""The sum of a random number of sizes by Panjer's recursion (ASTIN Bulletin 12, 1981, 22-26; from memory)."""

import math

import numpy as np

from curehouse.core.stock.reorder.unplanned import Rate

# So many uses in so many days that the rate is all but known.
SURE = 1e8


def panjer(rate: Rate, days: float, sizes: np.ndarray, cells: int) -> np.ndarray:
    """Return the chances of the quantity used over *days*, where *sizes* are those of one use on the grid's places.

    Uses are negative binomial, of the class p(n) = (a + b/n) p(n - 1), or Poisson where the rate is sure.
    """
    if rate.told >= SURE:
        mean = rate.mean() * days
        a, b = 0.0, mean
        nothing = math.exp(-mean * (1 - sizes[0]))
    else:
        a = days / (rate.days + days)
        b = (rate.told - 1) * a
        nothing = ((1 - a) / (1 - a * sizes[0])) ** rate.told
    found = np.zeros(cells)
    found[0] = nothing
    padded = np.zeros(cells)
    padded[: min(len(sizes), cells)] = sizes[:cells]
    for total in range(1, cells):
        of_one = np.arange(1, total + 1)
        found[total] = (a + b * of_one / total) * padded[1 : total + 1] @ found[total - 1 :: -1] / (1 - a * sizes[0])
    return found
