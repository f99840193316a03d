"""What is used over a time, against SciPy, against Panjer's recursion, and against worked figures."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from curehouse.core.stock.reorder.compound import MOST_CASES, gathered, mixed, on_grid, transform
from curehouse.core.stock.reorder.unplanned import Rate, Sizes
from tests.core.stock.reorder.panjer import SURE, panjer

CELLS = 512


def used(rate: Rate, sizes: Sizes, exposures: list[float], chances: list[float], cell: float = 1.0) -> np.ndarray:
    return mixed(transform(on_grid(sizes, cell, CELLS)), rate, exposures, chances, CELLS)


def test_batches_of_one_or_three_kilos_come_to_the_worked_figures() -> None:
    """Mean two batches of 1 or 3 kg alike: figures worked out by SciPy (from a worked example of ours, no source)."""
    two = Sizes(np.array([1.0, 3.0]), np.array([0.5, 0.5]))
    below = np.cumsum(used(Rate(2 * SURE, SURE), two, [1.0], [1.0]))
    assert below[[0, 4, 9, 10, 12, 13]] == pytest.approx([0.135335, 0.637204, 0.938731, 0.964133, 0.985471, 0.992063], abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.05, 12), st.lists(st.integers(1, 12), min_size=1, max_size=6))
def test_a_known_rate_gives_what_the_recursion_gives(mean: float, of: list[int]) -> None:
    sizes = Sizes(np.array(of, dtype=float), np.full(len(of), 1 / len(of)))
    found = used(Rate(mean * SURE, SURE), sizes, [1.0], [1.0])
    assert found == pytest.approx(panjer(Rate(mean * SURE, SURE), 1.0, on_grid(sizes, 1.0, CELLS), CELLS), abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.5, 60), st.floats(5, 400), st.floats(0.5, 60))
def test_a_rate_that_is_not_known_gives_the_negative_binomial(told: float, days: float, over: float) -> None:
    one = Sizes(np.ones(1), np.ones(1))
    found = used(Rate(told, days), one, [over], [1.0])
    exact = stats.nbinom.pmf(np.arange(CELLS), told, days / (days + over))
    if exact.sum() > 1 - 1e-9:
        assert found == pytest.approx(exact, abs=1e-8)


def test_a_new_material_with_three_uses_has_an_honest_range() -> None:
    """Four uses told in eighty days, over fourteen: the worked figures, and wider than if its rate were known."""
    one = Sizes(np.ones(1), np.ones(1))
    below = np.cumsum(used(Rate(4, 80), one, [14.0], [1.0]))
    assert below[:5] == pytest.approx([0.524624, 0.837167, 0.953539, 0.988203, 0.997238], abs=1e-6)
    assert below[2] < stats.poisson.cdf(2, 0.7)


def test_a_delivery_of_several_days_is_a_mixture_and_no_normal_distribution() -> None:
    """0.2 a day over 7, 14 or 21 days at .5, .3, .2: mean 2.38; for 99 % eight are needed, the normal says seven."""
    one = Sizes(np.ones(1), np.ones(1))
    found = used(Rate(0.2 * SURE, SURE), one, [7, 14, 21], [0.5, 0.3, 0.2])
    below, at = np.cumsum(found), np.arange(CELLS)
    mean = at @ found
    sd = math.sqrt(at**2 @ found - mean**2)
    assert (mean, sd) == pytest.approx((2.38, 1.8909257), abs=1e-6)
    assert below[5:9] == pytest.approx([0.929494909, 0.965858456, 0.984718835, 0.993675582], abs=1e-8)
    assert int(np.argmax(below >= 0.99)) == 8 > math.ceil(mean + stats.norm.ppf(0.99) * sd) - 1 == 6


@given(st.lists(st.floats(1, 500), min_size=1, max_size=9), st.floats(0.5, 40))
def test_sizes_on_a_grid_keep_their_mean_and_their_chances(of: list[float], cell: float) -> None:
    sizes = Sizes(np.array(of), np.full(len(of), 1 / len(of)))
    grid = on_grid(sizes, cell, 2048)
    assert grid.sum() == pytest.approx(1)
    if max(of) < 2047 * cell:
        assert grid @ np.arange(2048) * cell == pytest.approx(np.mean(of))


@given(st.integers(50, 400), st.floats(0.02, 2.0), st.integers(0, 2**31))
def test_a_mixture_of_many_days_is_that_of_the_few_it_is_gathered_on(cases: int, a_day: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    days = rng.gamma(4, 5, cases)
    shares = rng.random(cases)
    shares /= shares.sum()
    few, of_few = gathered(days, shares)
    assert len(few) <= MOST_CASES
    assert of_few.sum() == pytest.approx(1)
    assert of_few @ few == pytest.approx(shares @ days)
    exact = shares @ stats.poisson.cdf(np.arange(60)[None, :], a_day * days[:, None])
    fewer = of_few @ stats.poisson.cdf(np.arange(60)[None, :], a_day * few[:, None])
    assert fewer == pytest.approx(exact, abs=0.02)
