"""Rules for all materials of a shop: what one material tells too little of is learnt from all of them."""

from collections.abc import Sequence

import numpy as np

from curehouse.core.stock.lead_time import lead_time
from curehouse.core.stock.reorder.levels import Rule, standing_rule
from curehouse.core.stock.reorder.things import Costs, Item, Known
from curehouse.core.stock.reorder.unplanned import (
    Floats,
    Rate,
    Season,
    Sizes,
    learn_rate,
    learn_season,
    learn_sizes,
    pooled_rate,
)


def rules_of(items: Sequence[Item], *, month: int, day_of_month: int, costs: Costs) -> dict[str, Rule]:
    """Return the standing rule of each material, by name, as of a day of a *month* (1 to 12).

    What was never used is used as rarely as half a use in all the days that are known, in amounts of a pack.
    """
    season = learn_season(items, first_month=month - 1, day_of_month=day_of_month)
    pooled = pooled_rate(items, season)
    rates = {item.name: learn_rate(item, season, pooled) for item in items}
    unplanned = still_unplanned(items, rates, season)
    return {
        item.name: standing_rule(
            item, rates[item.name], _sizes(item), season, lead_time(item.days_taken, item.usual_days), costs, unplanned
        )
        for item in items
    }


def still_unplanned(items: Sequence[Known], rates: dict[str, Rate], season: Season) -> Floats:
    """Return the share of use on each day ahead that is not planned yet, where nobody said when runs were announced.

    It is one share up to the last planned day, told by how many uses are planned of those that are to be
    expected over all materials: so nothing that is planned is expected a second time.
    """
    horizon = max((one.day for item in items for one in item.planned), default=0)
    days = np.arange(1, horizon + 1)
    expected = sum(rate.mean() for rate in rates.values()) * float(season.at(days).sum())
    planned = sum(len(item.planned) for item in items)
    share = max(0.0, 1 - planned / expected) if expected > 0 else 1.0
    return np.full(horizon, share)


def _sizes(item: Item) -> Sizes:
    return learn_sizes(item.uses) if item.uses else Sizes(np.array([item.pack]), np.ones(1))
