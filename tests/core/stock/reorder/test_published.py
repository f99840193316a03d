"""The cores against published examples, and against figures of stockpyl 1.0.2 (``tests/reference``).

Rows and worked examples of which the cores work out nothing are not here, for a formula written in a test would only
check itself: incremental discounts (a price is that of all packs), planned backorders and production rates, joint
replenishment with a cost of each line, Wagner and Whitin's plan, newsvendors of a normal or lognormal distribution and
(r, Q) with normal demand and its approximations (use is never taken for normal), (s, S) rules (so many equal lots are
ordered), Croston, SBA and TSB (no point forecast is made; ``test_forecasts.py`` holds the mean against them).
"""

import csv
import re
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.ahead import Asked, Total, totals
from curehouse.core.stock.reorder.compound import mixed, on_grid, transform
from curehouse.core.stock.reorder.kept import Offered
from curehouse.core.stock.reorder.levels import Pace, undershoots
from curehouse.core.stock.reorder.sizing import cheapest, sizes_of
from curehouse.core.stock.reorder.things import Costs, Item
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS, Rate, Sizes
from tests.core.stock.reorder.panjer import SURE

REFERENCE = Path(__file__).parents[3] / "reference"
ONE = Sizes(np.ones(1), np.ones(1))
# A unit of time of the examples, in days: so long that it does not matter that we look once a day.
UNIT_DAYS = 1000.0


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


EXAMPLES = {row["id"]: row for row in rows("inventory_examples.csv")}


def said(example: str, name: str, *, of: str = "inputs") -> list[float]:
    """Return the numbers that stand behind a name of an example."""
    found = re.search(rf"\b{name}[= ]+([\d./]+)", EXAMPLES[example][of])
    assert found, (example, name)
    return [float(part) for part in found[1].rstrip(".").split("/")]


def poisson(mean: float) -> Total:
    (found,) = totals([Asked(Rate(mean * SURE, SURE), ONE, (), np.ones(1), np.ones(1))], [np.array([0.0, 1.0])])
    return found


def test_every_row_that_is_kept_is_tested() -> None:
    assert set(EXAMPLES) == {"EOQ-1", "EOQ-2", "NV-2", "NV-3", "RQ-7", "SAFE-1"}


@pytest.mark.parametrize("example", ["EOQ-1", "EOQ-2"])
def test_how_much_at_once(example: str) -> None:
    """Whole units are bought, so the cost is that of the nearest whole order."""
    discounts = "breaks" in EXAMPLES[example]["inputs"]
    prices = said(example, "unit") if discounts else [1.0]
    breaks = list(zip(map(int, said(example, "breaks")[1:]), prices[1:], strict=True)) if discounts else []
    rate = said(example, "i" if discounts else "h")[0]
    demand, order_cost = said(example, "demand")[0], said(example, "K")[0]
    never = Total(1.0, np.zeros(4000), np.zeros(1), np.ones(1))
    found = cheapest(
        sizes_of(
            Offered("o", "s", 1.0, prices[0], LeadTime((1.0,), 0), 1, breaks), range(1, 1301), in_its_life=never, here=0,
            a_day=demand / YEAR_DAYS, share_of_order=order_cost, holding_rate=rate,
        )
    )  # fmt: skip
    assert found.packs == round(said(example, "Q", of="outputs")[0])
    goods = 0.0 if discounts else demand
    assert found.cost * demand - goods == pytest.approx(said(example, "cost", of="outputs")[0], rel=1e-5)


@pytest.mark.parametrize(("example", "mean"), [("NV-2", 50.0), ("NV-3", 6.0)])
def test_up_to_which_quantity_to_buy(example: str, mean: float) -> None:
    """The newsvendor: the quantile is ours, and so is what is expected to be taken of it."""
    assert re.search(rf"mean={mean:g}|Poisson\({mean:g}\)", EXAMPLES[example]["inputs"] + EXAMPLES[example]["method"])
    holding, penalty = said(example, "h")[0], said(example, "p")[0]
    found = poisson(mean)
    most = found.quantile(penalty / (penalty + holding))
    exact = said(example, "S", of="outputs")[0]
    # Pieces lie between places of the grid, and are spread over them a little.
    assert most == pytest.approx(exact, abs=2 * found.cell)
    taken = float(found.taken(0.0, np.array([exact]))[0])
    cost = holding * (exact - taken) + penalty * (mean - taken)
    assert cost == pytest.approx(said(example, "cost", of="outputs")[0], rel=0.02)


def a_year(mean: float, lead_time: float, order: float, costs: Costs, order_cost: float) -> Pace:
    """Return the year of units used one by one; *mean* and *lead_time* by the examples' unit of time."""
    waits = np.array([[lead_time * UNIT_DAYS]])
    life = 6 * UNIT_DAYS * (order + 30) / mean
    item = Item("a", (), 1, (), 9.0, 1.0, 1, int(life), 1.0, order_cost)
    rate = Rate(mean / UNIT_DAYS * SURE, SURE)
    return Pace(item, rate, ONE, LeadTime((1.0,), round(waits[0, 0])), before=waits, till_expiry=waits + life, a_day=1.0)


def cost_of(
    holding: float, penalty: float, order_cost: float, mean: float, lead_time: float, level: float, order: float
) -> float:
    """Return our cost by the unit of time, the level as the examples count it.

    Ours is a level of any quantity: positions lie evenly between it and a lot more. Those of whole units from one
    above the level to the level and a lot have the same mean half a unit higher.
    """
    costs = Costs(holding * YEAR_DAYS / UNIT_DAYS, 0.0, penalty / UNIT_DAYS)
    pace = a_year(mean, lead_time, order, costs, order_cost)
    return float(np.interp(level + 0.5, pace.levels, pace.cost(order, costs))) * UNIT_DAYS / YEAR_DAYS


@pytest.mark.parametrize("row", rows("stockpyl_rq.csv"), ids=lambda row: f"{row['mean']}: {row['level']} and {row['order']}")
def test_what_a_level_and_an_order_cost_is_exact_for_units_used_one_by_one(row: dict[str, str]) -> None:
    exact = float(row["cost"])
    names = ("holding", "penalty", "order_cost", "mean", "lead_time", "level", "order")
    assert cost_of(*(float(row[name]) for name in names)) == pytest.approx(exact, rel=0.006)


@pytest.mark.parametrize("row", [row for row in rows("stockpyl_rq.csv") if row["best"] == "yes"], ids=lambda row: row["mean"])
def test_the_level_and_the_order_that_cost_least_are_found(row: dict[str, str]) -> None:
    holding, penalty, order_cost, mean, lead_time, level, order = (
        float(row[name]) for name in ("holding", "penalty", "order_cost", "mean", "lead_time", "level", "order")
    )
    costs = Costs(holding * YEAR_DAYS / UNIT_DAYS, 0.0, penalty / UNIT_DAYS)
    least = {}
    for lot in range(round(0.6 * order), round(1.6 * order)):
        pace = a_year(mean, lead_time, lot, costs, order_cost)
        cost = pace.cost(lot, costs)
        least[float(cost.min()) * UNIT_DAYS / YEAR_DAYS] = (lot, float(pace.levels[int(cost.argmin())]))
    lot, at = least[min(least)]
    assert min(least) == pytest.approx(float(row["cost"]), rel=0.006)
    assert lot == pytest.approx(order, abs=0.05 * order)
    assert at == pytest.approx(level + 0.5, abs=2)


def test_five_at_once_from_three_on_cost_what_the_exact_rule_says() -> None:
    """So few that our even positions are a little off: 1.5 %."""
    level, order = said("RQ-7", "r", of="outputs")[0], said("RQ-7", "Q", of="outputs")[0]
    parts = [said("RQ-7", name)[0] for name in ("h", "p", "K", "mean", "L")]
    assert cost_of(*parts, level, order) == pytest.approx(said("RQ-7", "cost", of="outputs")[0], rel=0.016)


def test_five_at_once_from_three_on_serve_and_hold_what_the_exact_rule_says() -> None:
    """Poisson of mean 2 in a delivery: of 100 units 95.64552620 are served at once, 4.0210475647 lie in the mean (by SciPy)."""
    year = a_year(2.0, 1.0, 5, Costs(), 1.0)
    found = year.year(5)
    late = float(np.interp(4.0, year.levels, found.late)) / (2.0 * YEAR_DAYS / UNIT_DAYS)
    assert 1 - late == pytest.approx(0.9564552620, abs=2e-4)
    assert float(np.interp(3.5, year.levels, found.lying)) == pytest.approx(4.0210475647, rel=2e-3)


def test_a_delivery_that_varies_spreads_what_goes_as_the_formula_of_a_safety_stock_says() -> None:
    """Its deviation for 20 a day with 4, over 9 days with 2, is 68.70 / 1.645; what we add to no normal table."""
    figures = [float(one) for one in re.findall(r"[\d.]+", EXAMPLES["SAFE-1"]["inputs"])]
    a_day, of_day, days, of_days, z = figures
    size = of_day**2 / a_day
    one = on_grid(Sizes(np.array([size]), np.ones(1)), size, 512)
    rate = Rate(a_day / size * SURE, SURE)
    pmf, places = mixed(transform(one), rate, [days - of_days, days + of_days], [0.5, 0.5], 512), np.arange(512) * size
    mean = float(pmf @ places)
    assert mean == pytest.approx(a_day * days, rel=1e-6)
    (safety,) = re.findall(r"=([\d.]+);", EXAMPLES["SAFE-1"]["outputs"])
    assert sqrt(float(pmf @ places**2) - mean**2) == pytest.approx(float(safety) / z, rel=1e-4)


def test_a_level_is_passed_by_part_of_a_use() -> None:
    """Sizes of 2, 4 and 8 kg at .5, .3, .2: by E[Z²] / 2E[Z] = 2578.947 g in the mean (renewal theory; worked by hand)."""
    sizes = Sizes(np.array([2000.0, 4000.0, 8000.0]), np.array([0.5, 0.3, 0.2]))
    assert undershoots(sizes, points=64).mean() == pytest.approx(2578.947, rel=4e-3)
    assert undershoots(sizes).mean() == pytest.approx(2578.947, rel=1e-2)
