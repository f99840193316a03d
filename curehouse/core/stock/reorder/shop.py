"""Rules for all materials of a shop: what one material tells too little of is learnt from all of them."""

from collections.abc import Sequence

import numpy as np

from curehouse.core.stock.lead_time import lead_time
from curehouse.core.stock.reorder.levels import Rule, standing_rule
from curehouse.core.stock.reorder.things import Costs, Item
from curehouse.core.stock.reorder.unplanned import (
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
    return {
        item.name: standing_rule(
            item, rates[item.name], _sizes(item), season, lead_time(item.days_taken, item.usual_days), costs
        )
        for item in items
    }


def _sizes(item: Item) -> Sizes:
    return learn_sizes(item.uses) if item.uses else Sizes(np.array([item.pack]), np.ones(1))
