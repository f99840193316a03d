"""What planning earlier is worth: nothing where nothing is left to know, more the earlier, and just what a year comes to."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.earlier import Bought, Notices, bought_of, worth_of_earlier
from curehouse.core.stock.reorder.kept import Kept, Offered, Seller
from curehouse.core.stock.reorder.things import Costs, Use
from curehouse.core.stock.reorder.unplanned import Rate, Season, Sizes

SURE = 1e7
COSTS = Costs()
SEASON = Season(np.ones(12), 0.0, 0, 1)


def bought(a_day: float = 0.2, *, price: float = 0.02, order: float = 5000, days: int = 11, size: float = 1000.0) -> Bought:
    """A material of which every use takes the same, at a rate that is known for certain."""
    return Bought("oil", Rate(a_day * SURE, SURE), Sizes(np.array([size]), np.ones(1)), LeadTime((1.0,), days), order, price)


def test_a_worked_example_by_the_poisson_distribution_itself() -> None:
    """Of 98 pours half were planned 5 days before and half never; a delivery takes 11 days; 0.2 uses of 1 kg a day."""
    notices = Notices([5] * 49 + [0] * 49)
    # A use on the first five days ahead is unplanned if it never was (and so are two that stand for what is not known).
    exposure = 5 * (49 + 2) / 100 + 5 * 1.0
    (worth,) = worth_of_earlier([bought()], notices, [60], costs=COSTS)
    uses = stats.poisson(0.2 * exposure)

    def cost(level: int, order: int = 5) -> tuple[float, float]:
        # The position lies evenly between the level and the level plus an order; batches come one by one.
        grid = np.linspace(level, level + order, 5001)
        ends = np.arange(0, 60)
        late = 1 - np.interp(grid, ends + 1, uses.cdf(ends), left=0.0)
        short = np.interp(grid, ends, [float(np.maximum(ends - y, 0) @ uses.pmf(ends)) for y in ends])
        late_a_year = float(late.mean()) * 0.2 * 365
        waited = float(short.mean()) * 365 + late_a_year
        lying = (level + order / 2 - uses.mean() + float(short.mean())) * 1000
        return late_a_year * 15 + waited * 3 + lying * 0.02 * 0.25, lying

    best = min(range(30), key=lambda level: cost(level)[0])
    now = worth.now[0]
    assert now.known == 0, "eleven days before it is planned of nothing"
    # Between whole kilograms the grid reads its curves straight; a year's cost is flat there.
    assert now.level == pytest.approx(best * 1000, abs=1000)
    assert now.cost == pytest.approx(cost(best)[0], rel=0.06)
    then = worth.then[0]
    assert then.known == pytest.approx(98 / 100)
    assert then.level < now.level
    assert worth.a_year == pytest.approx(now.cost - then.cost)
    assert worth.a_year > 0.3 * now.cost


def test_the_earlier_the_more_it_is_worth_up_to_a_delivery_and_no_more_beyond() -> None:
    worths = worth_of_earlier([bought()], Notices([0] * 200), [0, 2, 4, 6, 8, 10, 11, 60], costs=COSTS)
    saved = [one.a_year for one in worths]
    assert saved[0] == 0
    assert all(before < after for before, after in zip(saved[:6], saved[1:6], strict=False))
    assert saved[-1] == pytest.approx(saved[-2]), "what is planned before it has to be ordered is known in time"
    known = [one.known_then for one in worths]
    assert known == sorted(known)
    assert worths[-1].less_lying > 0


def test_where_all_is_planned_long_before_there_is_nothing_to_gain() -> None:
    (worth,) = worth_of_earlier([bought()], Notices([90] * 500), [21], costs=COSTS)
    assert worth.a_year == 0
    assert worth.known_now == worth.known_then > 0.99


def test_what_is_of_no_pour_is_not_planned_earlier_by_planning_pours_earlier() -> None:
    one, notices = [bought()], Notices([0] * 50)
    alone, beside, only = (
        worth_of_earlier(one, asked, [60], costs=COSTS)[0]
        for asked in (notices, replace(notices, others=50), Notices([], others=100))
    )
    assert alone.a_year > beside.a_year > only.a_year == 0


@settings(max_examples=60, deadline=None)
@given(
    a_day=st.floats(0.01, 0.6),
    told=st.floats(0.5, 60),
    price=st.floats(0.0005, 0.2),
    order=st.floats(300, 30_000),
    days=st.integers(1, 40),
    spread=st.integers(1, 20),
    sizes=st.lists(st.floats(50, 4000), min_size=1, max_size=8),
    notices=st.lists(st.integers(0, 60), min_size=1, max_size=80),
    earlier=st.integers(0, 60),
)
def test_it_is_never_worth_less_than_nothing(
    a_day: float, told: float, price: float, order: float, days: int, spread: int, sizes: list[float],
    notices: list[int], earlier: int,
) -> None:  # fmt: skip
    lead = LeadTime(tuple([1 / spread] * spread), days)
    of = Sizes(np.array(sizes), np.full(len(sizes), 1 / len(sizes)))
    one = Bought("oil", Rate(told, told / a_day), of, lead, order, price)
    less, more = worth_of_earlier([one], Notices(notices), [earlier, earlier + 5], costs=COSTS)
    # Levels stand on a grid, and being late is a chance and no amount: a little may be lost to both.
    tolerance = 0.03 * less.now[0].cost + 1e-9
    assert less.a_year >= -tolerance
    assert more.a_year >= less.a_year - tolerance
    assert less.now[0].lying >= 0


def offered(**changes: object) -> Offered:
    values = {"key": "can", "seller": "yard", "pack": 5000.0, "price": 50.0, "lead": LeadTime((1.0,), 8), **changes}
    return Offered(**values)  # type: ignore[arg-type]


def kept(key: str, *, uses: int = 10, offers: tuple[Offered, ...] = ()) -> Kept:
    return Kept(key, [Use(-20 * number - 1, 1000.0) for number in range(uses)], 300, offers=offers)


def test_only_what_is_used_often_sold_and_keeps_is_counted_and_bought_where_it_costs_least() -> None:
    dear = offered(key="bottle", pack=1000.0, price=15.0)
    found = bought_of(
        [
            kept("oil", offers=(dear, offered())),
            kept("seldom", uses=2, offers=(offered(),)),
            kept("nobody's"),
            kept("fresh", offers=(offered(life_days=20),)),
        ],
        [Seller("yard", work=5.0, freight=9.0)],
        SEASON,
        COSTS,
        usual_rate=0.03,
    )
    assert [(one.key, one.price) for one in found] == [("oil", 0.01)]
    # 0.05 kg-uses a day are 18 kg a year, 180 in money; an order of 14 is worth it every 288 days: three cans.
    assert found[0].order == pytest.approx(15_000)
