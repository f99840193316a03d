"""The figures that say why a line stands on an order, and by when it must be decided."""

from collections.abc import Sequence

import numpy as np

from curehouse.core.stock.reorder.ahead import Asked, totals
from curehouse.core.stock.reorder.candidate import AHEAD_DAYS, Candidate
from curehouse.core.stock.reorder.drafted import Why
from curehouse.core.stock.reorder.standing import standings, standings_later

# It is put off for so long at most, and until the risk is this many times what is accepted.
MOST_PUT_OFF_DAYS, TIMES_ACCEPTED = 21, 2.0
HARDLY = 0.01


def reasons(lines: Sequence[Candidate], review_days: int) -> list[Why]:
    """Return the figures of each line."""
    days = [one.lead.within(0.9) + review_days for one in lines]
    of_nobody = totals(
        [Asked(one.rate, one.sizes, (), np.array([float(d)]), np.ones(1)) for one, d in zip(lines, days, strict=True)],
        [one.unplanned for one in lines],
    )
    before_it_comes = standings(lines, [0] * len(lines))
    found = []
    last_days = _last_days(lines, review_days)
    for one, window, extra, before, last_day in zip(lines, days, of_nobody, before_it_comes, last_days, strict=True):
        if one.offer is None or one.until_next is None or one.in_its_life is None:
            raise ValueError(f"{one.kept.key} is sold by nobody: no line is written of it")
        bought = one.packs * one.offer.pack
        here_in_life = one.here_within(round(one.lead.mean()) + one.offer.life_days)
        used, used_of_more = one.in_its_life.taken(here_in_life, np.array([bought, bought + one.offer.pack]))
        # Longer than is looked ahead nothing is said to expire; nor is what no scale would show.
        keeps = one.offer.life_days >= AHEAD_DAYS
        spoils = 0.0 if keeps or bought - float(used) < HARDLY * bought else bought - float(used)
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
                risk_after=max(one.until_next.risk(bought), before.risk()),
                risk_accepted=one.risk_accepted,
                lasts_days=min((one.here + bought) / max(one.a_day, 1e-12), float(one.lead.within(0.5) + one.offer.life_days)),
                expires=spoils,
                next_expires=0.0 if keeps else min(max(1 - float(used_of_more - used) / one.offer.pack, 0.0), 1.0),
                last_day=last_day,
                lead_from=one.offer.lead_from,
            )
        )
    return found


def _last_days(lines: Sequence[Candidate], review_days: int) -> list[int]:
    """Return in how many days each is to be ordered at the latest: 0, today."""
    waits = range(1, MOST_PUT_OFF_DAYS + 1)
    limits = {one.kept.key: TIMES_ACCEPTED * one.risk_accepted for one in lines}
    can_wait = [one for one in lines if one.risk <= limits[one.kept.key]]
    then = standings_later(can_wait, [[review_days + wait for wait in waits]] * len(can_wait))
    found = {
        one.kept.key: next(
            (wait - 1 for wait, stands in zip(waits, of_one, strict=True) if stands.risk() > limits[one.kept.key]),
            MOST_PUT_OFF_DAYS,
        )
        for one, of_one in zip(can_wait, then, strict=True)
    }
    return [found.get(one.kept.key, 0) for one in lines]
