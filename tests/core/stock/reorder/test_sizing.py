"""How much at once, against worked examples: economic order quantity, price breaks, shelf life, accepted risk."""

import numpy as np
import pytest
from scipy import stats

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.ahead import Asked, Total, totals
from curehouse.core.stock.reorder.candidate import Candidate, accepted_risk
from curehouse.core.stock.reorder.kept import Kept, Offered
from curehouse.core.stock.reorder.sizing import cheapest, choices, sizes_of
from curehouse.core.stock.reorder.things import Costs
from curehouse.core.stock.reorder.unplanned import Rate, Sizes

TODAY = LeadTime((1.0,), 0)
SURE = 1e9


def offered(pack: float, price: float, life_days: int = 3650, breaks: list[tuple[int, float]] | None = None) -> Offered:
    return Offered("o", "mill", pack, price, TODAY, 1, breaks or [], life_days)


def certain(quantity: float) -> Total:
    """Return a use that is known: just so much goes."""
    cell = quantity / 1024
    below = (np.arange(1500) >= 1024).astype(np.float64)
    return Total(cell, below, np.zeros(1), np.ones(1))


def size(offer: Offered, packs: list[int], a_day: float, goes: float, order: float, rate: float) -> list[float]:
    found = sizes_of(
        offer, packs, in_its_life=certain(goes), here=0, a_day=a_day, share_of_order=order, holding_rate=rate
    )  # fmt: skip
    return [one.cost for one in found]


def test_without_shelf_life_it_is_the_economic_order_quantity() -> None:
    """K=8, h=.225, D=1300 a year: Q=304.05 (Snyder and Shen, Fundamentals of Supply Chain Theory, example 3.1)."""
    offer = offered(1, 1)
    packs = list(range(1, 1301))
    found = sizes_of(
        offer, packs, in_its_life=certain(1e6), here=0, a_day=1300 / 365, share_of_order=8, holding_rate=0.225
    )  # fmt: skip
    best = cheapest(found)
    assert best.packs == 304
    assert best.cost * 1300 - 1300 == pytest.approx(68.4105255, abs=1e-3)


def test_a_price_for_all_units_from_800_on_is_worth_taking() -> None:
    """K=8, i=.3, D=1300, .75 and from 400 .72 and from 800 .68: Q=800, 978.60 a year (textbook figures, from memory)."""
    offer = offered(1, 0.75, breaks=[(400, 0.72), (800, 0.68)])
    packs = list(range(1, 1301))
    found = sizes_of(offer, packs, in_its_life=certain(1e6), here=0, a_day=1300 / 365, share_of_order=8, holding_rate=0.3)
    assert cheapest(found).packs == 800
    assert cheapest(found).cost * 1300 == pytest.approx(978.6, abs=0.01)


def test_a_gram_costs_least_at_two_packs_where_a_third_would_half_expire() -> None:
    """Packs of 1 kg at 10, an order at 9, 20 g a day, 120 days, 25 % a year: worked by hand."""
    costs = size(offered(1000, 10, life_days=120), [1, 2, 3, 4], 20, 2400, 9, 0.25)
    assert [1000 * cost for cost in costs] == pytest.approx([19.1712, 14.8425, 16.7637, 21.1016], abs=2e-3)


def test_what_expires_of_a_lot_is_that_of_a_poisson_number_of_uses() -> None:
    """Twelve uses of 3 kg in a life: of 20, 30, 36, 40 and 50 kg expire 184, 1691, 4117, 6527 and 14537 g."""
    uses = np.arange(60)
    chances = stats.poisson.pmf(uses, 12)
    (total,) = totals(
        [Asked(Rate(12 * SURE, SURE), Sizes(np.array([3000.0]), np.ones(1)), (), np.ones(1), np.ones(1))],
        [np.array([0.0, 1.0])],
    )
    lots = np.array([20_000.0, 30_000.0, 36_000.0, 40_000.0, 50_000.0])
    expired = lots - total.taken(0.0, lots)
    exact = [float(chances @ np.maximum(lot - 3000 * uses, 0)) for lot in lots]
    assert exact == pytest.approx([184.2, 1690.8, 4117.2, 6526.7, 14536.5], abs=0.1)
    assert expired == pytest.approx(exact, abs=200)


def test_choices_hold_minimum_breaks_and_a_year() -> None:
    offer = Offered("o", "mill", 1000, 9, TODAY, 3, [(7, 8.0), (900, 1.0)])
    found = choices(offer, 50.0)
    assert found[0] == 3
    assert 7 in found
    assert found[-1] == 19


def test_the_risk_accepted_is_what_an_absence_costs_less_than_holding() -> None:
    """Q=5000 at .0075, 25 %, uses of 600, 27 a late batch, 73 kg a year: .00285, and no less than .008 is aimed at."""
    offer = Offered("o", "mill", 5000, 37.5, TODAY)
    one = Candidate(
        Kept("olive", [], 1),
        Rate(1, 1),
        Sizes(np.array([600.0]), np.ones(1)),
        np.zeros(2),
        np.zeros(2),
        200.0,
        offer=offer,
        packs=1,
    )
    assert accepted_risk(one, Costs()) == 0.008
    assert accepted_risk(one, Costs(late_batch=0, late_day=1)) == pytest.approx(0.0028539 * 27 / 4, rel=1e-3)
