"""A standing rule's year, as it is worked out, against stock that is gone through day by day."""

from itertools import cycle

import numpy as np
import pytest

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.levels import Pace, standing_rule
from curehouse.core.stock.reorder.things import Costs, Item
from curehouse.core.stock.reorder.unplanned import Rate, Season, Sizes
from tests.core.stock.reorder.day_by_day import go_through, uses

DELIVERY = (6, 8, 10, 14)
SURE = 1e7
YEARS = 250


def item(**more: object) -> Item:
    values = {"uses": (), "known_days": 1, "days_taken": (), "usual_days": 9.0, "pack": 1000.0, "minimum_packs": 1}
    return Item(**{"name": "Hemp oil", "life_days": 180, "price": 0.02, "order_cost": 14.0, **values, **more})  # type: ignore[arg-type]


def delivery() -> LeadTime:
    return LeadTime(
        tuple(DELIVERY.count(day) / len(DELIVERY) for day in range(min(DELIVERY), max(DELIVERY) + 1)), min(DELIVERY)
    )


def pace(a_day: float, sizes: np.ndarray, life: int) -> Pace:
    waits = np.arange(min(DELIVERY), max(DELIVERY) + 1, dtype=float)[None, :] - 1
    of = Sizes(sizes, np.full(len(sizes), 1 / len(sizes)))
    return Pace(
        item(life_days=life), Rate(a_day * SURE, SURE), of, delivery(), before=waits, till_expiry=waits + life, a_day=1.0
    )


@pytest.mark.parametrize(
    ("a_day", "life", "level", "order"),
    [(0.15, 180, 3000, 10_000), (0.15, 180, 3000, 20_000), (0.15, 400, 3000, 20_000), (0.03, 180, 2000, 4000)],
    ids=["often", "in large lots", "that keeps", "seldom"],
)
def test_a_year_comes_to_what_going_through_it_comes_to(a_day: float, life: int, level: float, order: float) -> None:
    rng = np.random.default_rng(7)
    sizes = rng.lognormal(0, 0.35, 200) * 1000
    worked = pace(a_day, sizes, life)
    place = int(level / worked.levels[1])
    year = worked.year(order)
    came = go_through(
        uses(rng, a_day, sizes, YEARS * 365), level=float(worked.levels[place]), order=order,
        deliveries=cycle(rng.choice(DELIVERY, 5000).tolist()), life=life, years=YEARS,
    )  # fmt: skip
    assert year.orders[place] == pytest.approx(came.orders, rel=0.12)
    assert year.lying[place] == pytest.approx(came.lying, rel=0.08)
    # What is bare for want of anything that keeps is late too.
    bare = year.bare[place] * a_day * worked.delivery
    assert year.late[place] + bare == pytest.approx(came.late, rel=0.3, abs=0.15)
    assert year.wasted[place] == pytest.approx(came.wasted, rel=0.35, abs=0.02 * order)


def rule(**more: object) -> tuple[float, float]:
    a_day, costs = 0.1, Costs()
    if "late_batch" in more:
        costs = Costs(late_batch=more.pop("late_batch"))  # type: ignore[arg-type]
    sizes = Sizes(np.array([800.0, 1000.0, 1200.0]), np.array([0.25, 0.5, 0.25]))
    season = Season(np.ones(12), 0.0, 0, 1)
    found = standing_rule(item(**more), Rate(a_day * SURE, SURE), sizes, season, delivery(), costs)
    assert len(found.levels) == 12
    return found.levels[0], found.order


def test_what_is_dearer_to_lack_is_ordered_earlier() -> None:
    assert rule(late_batch=100.0)[0] > rule()[0] > rule(late_batch=1.0)[0]


def test_what_expires_soon_is_bought_in_smaller_lots_than_what_keeps() -> None:
    assert rule(life_days=60)[1] < rule(life_days=700)[1]


def test_the_dearer_an_order_the_more_is_ordered_at_once_in_whole_packs() -> None:
    small, large = rule(order_cost=2.0, life_days=700)[1], rule(order_cost=60.0, life_days=700)[1]
    assert small < large
    assert small % 1000 == large % 1000 == 0
    assert rule(pack=2500.0, minimum_packs=3)[1] % 2500 == 0
    assert rule(pack=2500.0, minimum_packs=3)[1] >= 7500


def test_a_season_raises_the_levels_of_its_months() -> None:
    factors = np.ones(12)
    factors[9], factors[2] = 2.0, 0.0
    sizes = Sizes(np.array([1000.0]), np.ones(1))
    found = standing_rule(item(), Rate(0.1 * SURE, SURE), sizes, Season(factors, 0.0, 0, 1), delivery(), Costs())
    assert found.levels[9] > found.levels[5] > found.levels[2]
