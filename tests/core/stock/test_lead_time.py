"""How long what is ordered takes: properties, and figures worked out by SciPy on the same words."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.special import gammainc

from curehouse.core.stock.lead_time import PRIOR_RECEIPTS, LeadTime, blown_out, gamma_below, lead_time

TAKEN = st.lists(st.floats(0, 60).map(lambda days: round(days, 1)), max_size=25)
USUAL = st.floats(0, 60)


def by_scipy(taken: list[float], usual: float, half_life: float, days: int = 400) -> np.ndarray:
    """Return the same mixture on a grid of days, by SciPy's distributions."""
    weights = 0.5 ** (np.arange(len(taken))[::-1] / half_life)
    whole = weights.sum() + PRIOR_RECEIPTS
    mean = (weights @ taken + PRIOR_RECEIPTS * usual) / whole
    variance = (weights @ (np.array(taken) - mean) ** 2 + PRIOR_RECEIPTS * (0.5 * usual) ** 2) / whole
    edges = np.arange(days + 1) - 0.5
    edges[0] = 0
    found = PRIOR_RECEIPTS * np.diff(stats.gamma.cdf(edges, mean**2 / variance, scale=variance / mean))
    edges[0] = -0.5
    for weight, one in zip(weights, taken, strict=True):
        around = np.diff(stats.norm.cdf(edges, one, 1.0))
        found += weight * around / around.sum()
    return found / found.sum()


@pytest.mark.parametrize(
    ("taken", "usual", "half_life"),
    [([], 9, 10), ([7], 10, 10), ([5, 6, 5, 9, 7, 5, 11, 5], 8, 10), ([6, 7, 6, 7, 14, 15, 13], 7, 4), ([0, 1, 0], 2, 10)],
)
def test_receipts_and_what_is_usual_mix_as_the_words_say(taken: list[float], usual: float, half_life: float) -> None:
    exact = by_scipy(taken, usual, half_life)
    found = lead_time(taken, usual)
    assert [found.chance(days) for days in range(60)] == pytest.approx(list(exact[:60]), abs=2e-6)
    for share in (0.5, 0.8, 0.9, 0.95):
        assert found.within(share) == int(np.searchsorted(np.cumsum(exact), share))


def test_nothing_received_yet_is_spread_around_what_the_supplier_says() -> None:
    found = lead_time([], 10)
    # A gamma of mean 10 and coefficient of variation 0.5, by SciPy: stats.gamma(4, scale=2.5).ppf.
    assert [found.within(share) for share in (0.5, 0.8, 0.9, 0.95)] == [9, 14, 17, 19]
    assert found.mean() == pytest.approx(10, abs=0.01)


def test_deliveries_that_have_become_slow_count_for_more_sooner() -> None:
    slow = [6, 7, 6, 7, 6, 7, 14, 15, 13]
    assert blown_out(slow)
    assert not blown_out([6, 7, 6, 7, 6, 7, 9, 10, 9])
    assert not blown_out([14, 15, 13])
    assert lead_time(slow, 7).within(0.8) >= 14
    assert lead_time(slow, 7).mean() > lead_time(sorted(slow, reverse=True), 7).mean() + 1


def test_an_order_that_is_overdue_is_expected_later_and_one_beyond_all_that_is_known_not_tomorrow() -> None:
    found = lead_time([5, 6, 5, 7, 6, 6], 6)
    assert (found.within(0.5), found.within(0.95)) == (6, 8)
    aged = found.still_open_after(9)
    assert aged.within(0.5) >= 10
    assert sum(aged.chance(days) for days in range(10)) == 0
    lost = found.still_open_after(80)
    assert (lost.within(0.5), lost.within(0.95)) == (100, 118)
    assert found.still_open_after(-1) == found


@given(TAKEN, USUAL)
def test_all_chances_come_to_one_and_a_greater_chance_takes_no_fewer_days(taken: list[float], usual: float) -> None:
    found = lead_time(taken, usual)
    assert sum(found.chances) == pytest.approx(1)
    assert min(found.chances) >= 0
    within = [found.within(share) for share in (0.01, 0.5, 0.8, 0.9, 0.95, 0.999)]
    assert within == sorted(within)


@given(TAKEN, USUAL, st.integers(0, 120))
def test_what_has_not_come_yet_comes_on_no_day_that_is_past_and_rather_late(taken: list[float], usual: float, age: int) -> None:
    found = lead_time(taken, usual)
    aged = found.still_open_after(age)
    assert sum(aged.chances) == pytest.approx(1)
    assert aged.first_day == age + 1
    for share in (0.5, 0.8, 0.95):
        assert aged.within(share) >= max(found.within(share), age + 1)
    by_day, aged_by_day = (np.cumsum([one.chance(day) for day in range(130)]) for one in (found, aged))
    assert np.all(aged_by_day <= by_day + 1e-5)


@given(TAKEN.filter(bool), USUAL)
def test_the_newest_receipt_moves_it_towards_itself(taken: list[float], usual: float) -> None:
    before = lead_time(taken, usual)
    if not blown_out(taken) and not blown_out([*taken, before.mean() + 20]):
        assert lead_time([*taken, before.mean() + 20], usual).mean() > before.mean() - 0.05


@given(st.floats(0.05, 400), st.floats(0, 900))
def test_the_incomplete_gamma_function_is_that_of_scipy(shape: float, at: float) -> None:
    assert gamma_below(shape, at) == pytest.approx(gammainc(shape, at), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("taken", "usual"), [([-1], 5), ([5000], 5), ([], -2), ([float("nan")], 5), ([], float("inf"))])
def test_days_that_cannot_be_are_refused(taken: list[float], usual: float) -> None:
    with pytest.raises(ValueError, match="days: put its two dates right, or leave it out"):
        lead_time(taken, usual)


@pytest.mark.parametrize("share", [0, 1, -0.1, float("nan")])
def test_a_chance_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="give one between 0 and 1"):
        LeadTime((1.0,)).within(share)
