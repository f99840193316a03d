"""The figures that say why a line stands on an order, and by when it must be decided."""

from collections.abc import Sequence

import numpy as np

from curehouse.core.stock.reorder.ahead import Asked, totals
from curehouse.core.stock.reorder.candidate import Candidate
from curehouse.core.stock.reorder.drafted import Why
from curehouse.core.stock.reorder.standing import standings
from curehouse.core.stock.reorder.unplanned import Floats

# It is put off for so long at most, and until the risk is this many times what is accepted.
MOST_PUT_OFF_DAYS, TIMES_ACCEPTED = 21, 2.0


def reasons(lines: Sequence[Candidate], unplanned: Floats, review_days: int) -> list[Why]:
    """Return the figures of each line; *unplanned* as in :func:`~curehouse.core.stock.reorder.ahead.totals`."""
    days = [one.lead.within(0.9) + review_days for one in lines]
    of_nobody = totals(
        [Asked(one.rate, one.sizes, (), np.array([float(d)]), np.ones(1)) for one, d in zip(lines, days, strict=True)],
        unplanned,
    )
    found = []
    for one, window, extra in zip(lines, days, of_nobody, strict=True):
        if one.offer is None or one.until_next is None or one.in_its_life is None:
            raise ValueError(f"{one.kept.key} is sold by nobody: no line is written of it")
        bought = one.packs * one.offer.pack
        here_in_life = one.here_within(round(one.lead.mean()) + one.offer.life_days)
        used, used_of_more = one.in_its_life.taken(here_in_life, np.array([bought, bought + one.offer.pack]))
        found.append(
            Why(
                days=window,
                planned=tuple(sorted((run for run in one.kept.planned if run.day <= window), key=lambda run: run.day)),
                unplanned_half=extra.quantile(0.5),
                unplanned_most=extra.quantile(0.9),
                here=one.here,
                lead_half=one.lead.within(0.5),
                lead_most=one.lead.within(0.9),
                risk=one.risk,
                risk_after=one.until_next.risk(bought),
                risk_accepted=one.risk_accepted,
                lasts_days=(one.here + bought) / max(one.a_day, 1e-12),
                expires=bought - float(used),
                next_expires=min(max(1 - float(used_of_more - used) / one.offer.pack, 0.0), 1.0),
                last_day=_last_day(one, unplanned, review_days),
            )
        )
    return found


def _last_day(one: Candidate, unplanned: Floats, review_days: int) -> int:
    """Return in how many days it is to be ordered at the latest: 0, today."""
    limit = TIMES_ACCEPTED * one.risk_accepted
    if one.risk > limit:
        return 0
    waits = range(1, MOST_PUT_OFF_DAYS + 1)
    then = standings([one] * len(waits), unplanned, [review_days + wait for wait in waits])
    for wait, stands in zip(waits, then, strict=True):
        if stands.risk() > limit:
            return wait - 1
    return MOST_PUT_OFF_DAYS
