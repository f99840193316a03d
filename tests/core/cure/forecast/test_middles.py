"""Medians over few bars and quantiles over many draws are NumPy's own, though they are found another way."""

import numpy as np
import pytest

from curehouse.core.cure.forecast.definitions import middle_bar
from curehouse.core.cure.forecast.ranges import TENTHS, quantiles


@pytest.mark.parametrize("bars", range(1, 8))
def test_the_middle_bar_is_the_median(bars: int) -> None:
    values = np.random.default_rng(bars).normal(size=(3, 50, bars, 4)).round(1)
    assert np.array_equal(middle_bar(values), np.median(values, axis=2))


@pytest.mark.parametrize("draws", [1, 2, 150, 301])
def test_ranges_end_at_the_quantiles(draws: int) -> None:
    values = np.random.default_rng(draws).normal(size=(3, draws, 2, 4))
    assert quantiles(values, TENTHS) == pytest.approx(np.quantile(values, TENTHS, axis=1), rel=1e-12)
    assert quantiles(values[:, :, 0, 0], (0.0, 1.0)) == pytest.approx(np.quantile(values[:, :, 0, 0], (0.0, 1.0), axis=1))
