"""How a material stands on each of many days it may be ordered on, all at once: as one by one."""

import numpy as np
import pytest

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.candidate import Candidate, days_ahead
from curehouse.core.stock.reorder.kept import Coming, Kept, Lot
from curehouse.core.stock.reorder.standing import standings, standings_later
from curehouse.core.stock.reorder.things import Use
from curehouse.core.stock.reorder.unplanned import learn_rate, learn_sizes
from tests.core.stock.reorder.nights import AT_ONCE, FLAT, WEEK, offer, oil, run

UNPLANNED = days_ahead(FLAT, ()).everything
WAITS = range(1, 22)
SLOW = LeadTime((1 / 90,) * 90, 5)


def candidate(lead: LeadTime, **more: object) -> Candidate:
    sizes = np.random.default_rng(4).lognormal(7.2, 0.3, 73)
    uses = [Use(-day, float(grams)) for day, grams in zip(range(1, 730, 10), sizes, strict=True)]
    kept: Kept = oil(offers=[offer(lead=lead)], uses=uses, **more)
    return Candidate(
        kept, learn_rate(kept, FLAT, 0.1), learn_sizes(kept.uses), UNPLANNED, np.zeros(900), 150.0, offer=kept.offers[0]
    )


@pytest.mark.parametrize("lead", [WEEK, AT_ONCE, SLOW], ids=["a week", "three days", "perhaps months"])
@pytest.mark.parametrize(
    "more",
    [
        {"here": 9000},
        {"here": 9000, "planned": [run(4, 2000), run(15, 7000)]},
        {"lots": [Lot("a", 3000, 6), Lot("b", 5000, 14), Lot("c", 9000, 300)]},
        {"here": 4000, "coming": [Coming("o", 10_000, LeadTime((1.0,), 12), 9)], "planned": [run(20, 3000)]},
    ],
    ids=["as usual", "planned runs", "lots that expire", "an order that expires"],
)
def test_on_many_days_at_once_it_stands_as_on_each(lead: LeadTime, more: dict[str, object]) -> None:
    one = candidate(lead, **more)
    (together,) = standings_later([one], [WAITS])
    alone = standings([one] * len(WAITS), WAITS)
    assert [len(one.parts) for one in together] == [len(one.parts) for one in alone]
    for at_once, by_itself in zip(together, alone, strict=True):
        assert [keeps for _total, keeps in at_once.parts] == [keeps for _total, keeps in by_itself.parts]
        # All share the grid of the longest; what is planned is moved by whole cells of it.
        assert at_once.risk() == pytest.approx(by_itself.risk(), abs=0.025)
        assert at_once.risk(3000.0) == pytest.approx(by_itself.risk(3000.0), abs=0.025)
