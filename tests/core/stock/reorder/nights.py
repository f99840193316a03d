"""A small storeroom for tests of a night."""

from dataclasses import replace

import numpy as np

from curehouse.core.stock.lead_time import LeadTime, lead_time
from curehouse.core.stock.reorder.drafted import Draft, Line, Night
from curehouse.core.stock.reorder.kept import Kept, Lot, Offered, Seller
from curehouse.core.stock.reorder.night import look
from curehouse.core.stock.reorder.things import Costs, Planned, Use
from curehouse.core.stock.reorder.unplanned import Season

FLAT = Season(np.ones(12), 0.0, 0, 1)
WEEK = lead_time([6, 7, 8, 7, 6, 7], 7.0)
AT_ONCE = LeadTime((1.0,), 3)
MILL = Seller("mill", 4, 9, 120)


def offer(key: str = "olive", **more: object) -> Offered:
    """Return olive oil in cans of 5 kg; what is said differs."""
    return replace(Offered(key, "mill", 5000, 40, WEEK, life_days=480), **more)  # type: ignore[arg-type]


def oil(key: str = "olive", *, here: float = 20_000, every: int = 10, grams: float = 1500, **more: object) -> Kept:
    """Return a material used *grams* every so many days for two years, of which so much is *here*."""
    usual = Kept(
        key,
        [Use(-day, grams) for day in range(1, 730, every)],
        730,
        [Lot("L1", here, 300)] if here else [],
        offers=[offer(key)],
    )
    return replace(usual, **more)  # type: ignore[arg-type]


def night(*kept: Kept, seller: Seller = MILL, unplanned: tuple[float, ...] = (), review_days: int = 1) -> Night:
    """Return what a night finds."""
    return look(kept, [seller], season=FLAT, unplanned=unplanned, costs=Costs(), review_days=review_days)


def lines(found: Night) -> dict[str, Line]:
    """Return all lines by material."""
    return {line.kept.key: line for draft in found.drafts for line in draft.lines}


def only(found: Night) -> Draft:
    """Return the one draft."""
    (draft,) = found.drafts
    return draft


def run(day: int, grams: float, name: str = "r") -> Planned:
    """Return a planned run."""
    return Planned(day, grams, name)
