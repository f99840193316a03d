"""How much of a material's use on days to come nobody has planned yet, day by day.

Where it is known how long before their day the shop's runs were planned so far, that alone says it: then what is planned
and what is not yet are two streams, and neither tells of the other. Where it is not known, only what is certain is taken
off: of what is expected up to a day what is planned of this material up to that day, one run for one use and a small run
for the part of a use that it is. A run of later takes nothing off sooner days, a run of another material nothing at all.
"""

from collections.abc import Sequence

import numpy as np

from curehouse.core.stock.reorder.things import Planned
from curehouse.core.stock.reorder.unplanned import Floats, Rate, Sizes


def besides_planned(factors: Floats, announced: Floats, rate: Rate, sizes: Sizes, planned: Sequence[Planned]) -> Floats:
    """Return to how many even days of use what nobody has planned adds up until each day to come; the first is 0.

    Parameters
    ----------
    factors
        By how much more than on an even day is used on each day to come, tomorrow first.
    announced
        From ``announced.share_open``: the share of each day's use that is not planned yet, all beyond its end. Empty where
        too few past runs tell it.
    rate, sizes
        How often the material is used on an even day, and how much of it at once.
    planned
        Its planned runs. What was due before tomorrow takes nothing off: it is made up for beside what is usual.
    """
    if len(announced):
        within = min(len(announced), len(factors))
        still = factors.copy()
        still[:within] *= announced[:within]
        return np.concatenate([[0.0], np.cumsum(still)])
    expected = np.concatenate([[0.0], np.cumsum(factors)])
    certain = np.zeros(len(expected))
    for run in planned:
        if 0 < run.day < len(certain):
            certain[run.day] += min(1.0, run.quantity / sizes.mean())
    left: Floats = np.maximum(expected - np.cumsum(certain) / rate.mean(), 0.0)
    return np.maximum.accumulate(left)
