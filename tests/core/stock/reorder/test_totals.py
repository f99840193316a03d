"""What goes of many materials at once, against Panjer's recursion and SciPy, and what must hold of any answer."""

import math
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from curehouse.core.stock.reorder import ahead
from curehouse.core.stock.reorder.ahead import CELLS, Asked, Total, totals
from curehouse.core.stock.reorder.compound import on_grid
from curehouse.core.stock.reorder.things import Planned
from curehouse.core.stock.reorder.unplanned import Rate, Sizes
from tests.core.stock.reorder.panjer import SURE, panjer

EVEN = np.arange(400, dtype=np.float64)
ONE = Sizes(np.ones(1), np.ones(1))


def rates() -> st.SearchStrategy[Rate]:
    """Return rates that are sure, and such as few uses tell."""
    told = st.one_of(st.just(SURE), st.floats(0.5, 70))
    return st.builds(lambda told, a_day: Rate(told, told / a_day), told, st.floats(0.005, 0.6))


def of_sizes(most: float = 40.0) -> st.SearchStrategy[Sizes]:
    """Return sizes, of which one may be rare and large."""
    each = st.lists(st.tuples(st.floats(1, most), st.floats(0.02, 1)), min_size=1, max_size=6)
    return each.map(
        lambda found: Sizes(np.array([s for s, _ in found]), np.array([c for _, c in found]) / sum(c for _, c in found))
    )


def lengths() -> st.SearchStrategy[tuple[np.ndarray, np.ndarray]]:
    """Return lengths of a delivery one after the other, with their chances."""
    chances = st.lists(st.floats(0.05, 1), min_size=1, max_size=5)
    return st.builds(
        lambda first, found: (first + np.arange(len(found), dtype=float), np.array(found) / sum(found)),
        st.integers(1, 60),
        chances,
    )


def runs() -> st.SearchStrategy[list[Planned]]:
    return st.lists(st.builds(Planned, st.integers(0, 70), st.floats(1, 300)), max_size=4)


def answer(asked: Asked) -> Total:
    (found,) = totals([asked], [EVEN])
    return found


def poisson(mean: float) -> Total:
    return answer(Asked(Rate(mean * SURE, SURE), ONE, (), np.ones(1), np.ones(1)))


@settings(max_examples=50, deadline=None)
@given(rates(), of_sizes(), lengths(), runs())
def test_it_is_what_the_recursion_gives_moved_by_what_is_planned(
    rate: Rate, sizes: Sizes, of: tuple[np.ndarray, np.ndarray], planned: list[Planned]
) -> None:
    days, chances = of
    found = answer(Asked(rate, sizes, planned, days, chances))
    one = on_grid(sizes, found.cell, 2 * CELLS)
    exact = np.zeros(CELLS)
    for day, chance in zip(days, chances, strict=True):
        moved = math.floor((sum(run.quantity for run in planned if run.day <= day) - found.certain) / found.cell + 1e-9)
        exact[moved:] += chance * panjer(rate, day, one, CELLS)[: CELLS - moved]
    # So much lies beyond the grid and comes back at its beginning, a coarse one where much is planned that may not be meant.
    assert found.below == pytest.approx(np.cumsum(exact), abs=2e-4)


@settings(max_examples=50, deadline=None)
@given(rates(), of_sizes(), lengths(), runs())
def test_its_mean_and_its_spread_are_those_of_the_parts(
    rate: Rate, sizes: Sizes, of: tuple[np.ndarray, np.ndarray], planned: list[Planned]
) -> None:
    """The formula of a safety stock with a delivery that varies is this variance: it needs no normal distribution."""
    if rate.told < 5:
        rate = replace(rate, told=SURE, days=rate.days * SURE / rate.told)
    days, chances = of
    found = answer(Asked(rate, sizes, planned, days, chances))
    places = found.certain + np.arange(CELLS) * found.cell
    pmf = np.diff(found.below, prepend=0.0)
    of_runs = np.array([sum(run.quantity for run in planned if run.day <= day) for day in days])
    means = rate.mean() * days * sizes.mean() + of_runs
    within = rate.mean() * days * float(sizes.sizes**2 @ sizes.chances) + (days / rate.days * sizes.mean()) ** 2 * rate.told
    mean = float(chances @ means)
    variance = float(chances @ (within + means**2)) - mean**2
    # What is planned is moved by whole cells; a use that lies between two is shared between them, which spreads it.
    assert places @ pmf == pytest.approx(mean, rel=1e-3, abs=1.01 * found.cell)
    spread = math.sqrt(max(places**2 @ pmf - (places @ pmf) ** 2, 0.0))
    shared = 0.5 * math.sqrt(rate.mean() * float(days[-1]))
    assert spread == pytest.approx(math.sqrt(variance), rel=0.01, abs=(1.01 + shared) * found.cell)


@settings(max_examples=50, deadline=None)
@given(rates(), of_sizes(), lengths(), runs(), st.floats(0, 3000), st.floats(1, 3000))
def test_more_is_never_likelier_to_be_too_little(
    rate: Rate, sizes: Sizes, of: tuple[np.ndarray, np.ndarray], planned: list[Planned], here: float, more: float
) -> None:
    found = answer(Asked(rate, sizes, planned, *of))
    assert 0 <= found.risk(here + more) <= found.risk(here) <= 1
    assert found.risk(-1.0) == 1.0
    share = 0.9
    most = found.quantile(share)
    # What is planned is moved by whole cells.
    assert found.risk(most + 1.01 * found.cell) <= 1 - share + 1e-6
    taken = found.taken(here, np.array([more, 2 * more]))
    assert 0 <= taken[0] <= taken[1] + 1e-9
    assert taken[0] <= more


def test_a_size_that_is_rare_and_large_does_not_come_back_as_nothing() -> None:
    """Ten uses of 1, of which one in ten is 12: of what is beyond 64 nothing may be said to be nothing at all."""
    sizes = Sizes(np.array([1.0, 12.0]), np.array([0.9, 0.1]))
    found = answer(Asked(Rate(10 * SURE, SURE), sizes, (), np.ones(1), np.ones(1)))
    exact = panjer(Rate(10 * SURE, SURE), 1.0, np.bincount([1, 12], [0.9, 0.1], 200), 200)
    assert found.below[0] == pytest.approx(math.exp(-10), abs=1e-5)
    for quantity in (24, 40, 60, 75):
        assert found.risk(quantity + 0.5) == pytest.approx(1 - exact[: quantity + 1].sum(), abs=5e-3)


def test_only_what_goes_after_a_day_is_asked_about() -> None:
    later = Asked(Rate(0.2 * SURE, SURE), ONE, [Planned(3, 5.0), Planned(12, 7.0)], np.array([20.0]), np.ones(1), after=10)
    (found,) = totals([later], [EVEN])
    (as_if,) = totals([replace(later, planned=[Planned(1, 7.0)], days=np.array([10.0]), after=-1)], [EVEN])
    assert found.below == pytest.approx(as_if.below)


def test_each_answer_is_the_same_alone_and_among_many() -> None:
    dice = np.random.default_rng(5)
    asked = [
        Asked(
            Rate(told, 40 * told), Sizes(dice.lognormal(0, 0.5, 9) * 500, np.full(9, 1 / 9)),
            [Planned(int(dice.integers(0, 20)), 800.0)] * int(dice.integers(0, 3)),
            4 + np.arange(12.0), np.full(12, 1 / 12),
        )
        for told in dice.uniform(2, 60, 150)
    ]  # fmt: skip
    together = totals(asked, [EVEN] * len(asked))
    for one, among in zip(asked, together, strict=True):
        assert among.below == pytest.approx(answer(one).below, abs=1e-12)


def test_a_delivery_that_may_take_years_needs_no_more_memory_and_says_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    days, even = np.arange(5, 3005, dtype=float), np.arange(3100, dtype=np.float64)
    chances = stats.gamma.pdf(days, 2, scale=400)
    planned = [Planned(int(day), 9.0) for day in (20, 60, 61, 400, 900)]
    asked = Asked(Rate(20, 400), Sizes(np.array([3.0, 5.0]), np.array([0.5, 0.5])), planned, days, chances / chances.sum())
    tracemalloc.start()
    many = totals([asked] * 64, [even] * 64)
    _now, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 60e6
    monkeypatch.setattr(ahead, "MOST_CASES", 10_000)
    (exact,) = totals([asked], [even])
    assert many[0].below == pytest.approx(exact.below, abs=5e-3)
    assert [many[0].risk(at) for at in (26.9, 27.1, 200)] == pytest.approx(
        [exact.risk(at) for at in (26.9, 27.1, 200)], abs=5e-3
    )


def test_four_uses_are_covered_by_eight_and_not_by_seven() -> None:
    """Poisson of mean 4 at 95 %: F(7) = .9488664, F(8) = .9786366 (by SciPy)."""
    found = poisson(4)
    assert [1 - found.risk(at + 0.5) for at in (7, 8)] == pytest.approx([0.9488664, 0.9786366], abs=1e-5)
    assert math.ceil(found.quantile(0.95) - found.cell) == 8 == stats.poisson.ppf(0.95, 4)


def test_seven_weeks_of_three_bars_are_covered_by_29() -> None:
    """Poisson of mean 21: F(28) = .943630, F(29) = .962581, so 29 (by SciPy).

    Whole pieces are spread over the grid a little.
    """
    found = poisson(21)
    assert [1 - found.risk(at + 0.5) for at in (28, 29)] == pytest.approx([0.943630, 0.962581], abs=2e-3)
    assert found.quantile(0.95) == pytest.approx(29, abs=0.5)
