"""How long before its pour a run is planned: what the plan does not know yet of each day to come."""

from collections.abc import Sequence

import numpy as np

from curehouse.core.stock.reorder.unplanned import Floats

# Beside what was seen stand so many uses that nobody planned: a new house counts on little notice.
PRIOR_UNPLANNED = 2.0
MOST_DAYS = 180
# Fewer past runs do not tell how long before their day runs are planned here (our own choice, no source).
LEAST_RUNS = 10


def share_unplanned(notices: Sequence[int]) -> Floats:
    """Return for each day ahead, tomorrow first, how likely a use on it is not planned yet.

    *notices*: of each past use, how many days before it its run was planned; 0 where it never was.
    """
    seen = np.sort(np.maximum(np.asarray(notices, dtype=np.int64), 0))
    days = np.arange(1, MOST_DAYS + 1)
    later = np.searchsorted(seen, days, side="left")
    return np.asarray((later + PRIOR_UNPLANNED) / (len(seen) + PRIOR_UNPLANNED), dtype=np.float64)


def share_open(runs: Sequence[int], others: int = 0) -> Floats:
    """Return the same where enough past runs tell it, and nothing (an array without days) where they do not.

    Parameters
    ----------
    runs
        Of each past run, how many days before it it was planned; 0 where it never was.
    others
        How many uses were of no run: nobody plans those.
    """
    return share_unplanned([*runs, *[0] * others]) if len(runs) >= LEAST_RUNS else np.zeros(0)
