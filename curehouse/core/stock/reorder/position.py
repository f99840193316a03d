"""How much of what is here will be used before it expires: the rest is no stock to count on."""

import numpy as np

from curehouse.core.stock.reorder.kept import Kept
from curehouse.core.stock.reorder.unplanned import Floats


def used_by_day(kept: Kept, a_day: Floats) -> Floats:
    """Return what is used from today until each day to come, in the mean: planned runs, and *a_day* that nobody planned.

    ``found[0]`` is what runs of today take; ``a_day[0]`` stands for tomorrow.
    """
    found = np.concatenate([[0.0], np.cumsum(a_day)])
    for one in kept.planned:
        found[max(one.day, 0) :] += one.quantity
    return found


def counted(kept: Kept, used: Floats, days: int) -> float:
    """Return what is here or on its way and is used in time or keeps beyond *days* days, first expired first.

    Parameters
    ----------
    used
        From :func:`used_by_day`.
    days
        Over so many days it is asked what there is; what expires later counts in full.
    """
    taken = whole = 0.0
    ends = sorted([(lot.last_day, lot.quantity) for lot in kept.lots] + _ends_of_coming(kept))
    for last_day, quantity in ends:
        if last_day < 0:
            continue
        if last_day >= min(days, len(used) - 1):
            whole += quantity
        else:
            gone = min(quantity, max(float(used[int(last_day)]) - taken, 0.0))
            taken += gone
            whole += gone
    return whole


def _ends_of_coming(kept: Kept) -> list[tuple[float, float]]:
    return [(one.days.within(0.5) + one.life_days, one.quantity) for one in kept.coming]
