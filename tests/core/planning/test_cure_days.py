"""How long the next cure takes, against SciPy and a worked example."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from curehouse.core.planning.cure_days import CureDays, cure_days, student_cdf, student_quantile


def test_the_worked_example() -> None:
    # Cures of 30, 33, 35, 36 and 41 days: figures of a worked example, recomputed by SciPy in the next test.
    found = cure_days([30, 33, 35, 36, 41])
    assert found is not None
    assert found.mean_days == pytest.approx(35)
    assert found.scale_days == pytest.approx(4.4497191, abs=1e-6)
    assert found.chance_by(44) == pytest.approx(0.9434189, abs=1e-6)
    assert found.days_for(0.95) == pytest.approx(44.486, abs=1e-3)


@given(st.lists(st.floats(20, 90), min_size=3, max_size=40), st.floats(0.01, 0.99))
def test_it_is_scipys_prediction_of_one_more(took: list[float], share: float) -> None:
    found = cure_days(took)
    assert found is not None
    spread = np.std(took, ddof=1) * (1 + 1 / len(took)) ** 0.5
    assert found.scale_days == pytest.approx(spread, rel=1e-6, abs=1e-9)
    if spread > 1e-6:
        days = stats.t.ppf(share, len(took) - 1, loc=sum(took) / len(took), scale=spread)
        assert found.days_for(share) == pytest.approx(days, rel=1e-7)
        assert found.chance_by(days) == pytest.approx(share, abs=1e-7)


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 8, 13, 40, 119])
@pytest.mark.parametrize("value", [-30.0, -2.5, -0.4, 0.0, 0.1, 1.0, 3.2, 12.0])
def test_the_distribution_is_scipys(value: float, freedom: int) -> None:
    assert student_cdf(value, freedom) == pytest.approx(stats.t.cdf(value, freedom), abs=1e-12)


@pytest.mark.parametrize(("freedom", "share", "value"), [(4, 0.975, 2.776), (9, 0.95, 1.833), (1, 0.9, 3.078)])
def test_quantiles_of_the_usual_tables(freedom: int, share: float, value: float) -> None:
    # Tables of Student's t (from memory).
    assert student_quantile(share, freedom) == pytest.approx(value, abs=5e-4)


def test_of_cures_that_all_took_the_same_it_is_that() -> None:
    assert cure_days([35, 35, 35]) == CureDays(35, 0, 3)
    assert cure_days([35, 35, 35]).chance_by(34.9) == 0
    assert cure_days([35, 35, 35]).days_for(0.95) == 35


def test_of_two_nothing_is_said_and_no_cure_takes_no_time() -> None:
    assert cure_days([30, 41]) is None
    with pytest.raises(ValueError, match="takes more than no time"):
        cure_days([30, 33, 0])
