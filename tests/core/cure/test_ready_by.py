"""How likely a batch is ready by a day: on, between and outside of the tenths that are kept."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.cure.ready_by import NEVER, Chance, all_ready, ready_by

TENTHS = {"p10": 32.0, "p50": 36.0, "p90": 46.0, "min_days": 28, "horizon_days": 126}


@pytest.mark.parametrize(
    ("day", "low", "high"),
    [
        (27, 0, 0),
        (28, 0, 0.1),
        (31, 0, 0.1),
        (32, 0.1, 0.1),
        (34, 0.3, 0.3),
        (36, 0.5, 0.5),
        (41, 0.7, 0.7),
        (46, 0.9, 1),
        (90, 0.9, 1),
    ],
)
def test_on_and_between_the_tenths(day: float, low: float, high: float) -> None:
    found = ready_by(day, **TENTHS)
    assert (found.low, found.high) == (pytest.approx(low), pytest.approx(high))


def test_a_tenth_at_the_horizon_is_only_not_before_it() -> None:
    assert ready_by(60, **{**TENTHS, "p90": 126.0}) == Chance(0.5, 0.9)
    assert ready_by(60, **{**TENTHS, "p50": 126.0, "p90": 126.0}) == Chance(0.1, 0.5)
    assert ready_by(60, **{**TENTHS, "p10": 126.0, "p50": 126.0, "p90": 126.0}) == Chance(0.0, 0.1)


def test_batches_that_are_all_ready_at_the_least_age() -> None:
    alike = {**TENTHS, "p10": 28.0, "p50": 28.0, "p90": 28.0}
    assert ready_by(27, **alike) == NEVER
    assert ready_by(28, **alike) == Chance(0.9, 1.0)
    assert ready_by(29, **{**alike, "p90": 30.0}).low == pytest.approx(0.7)


def test_tenths_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="one is ready first"):
        ready_by(30, **{**TENTHS, "p10": 40.0})


@given(st.lists(st.integers(28, 126), min_size=3, max_size=3), st.integers(0, 130))
def test_it_never_falls_as_days_go_by(tenths: list[int], day: int) -> None:
    p10, p50, p90 = map(float, sorted(tenths))
    now, later = (ready_by(at, p10=p10, p50=p50, p90=p90, min_days=28, horizon_days=126) for at in (float(day), day + 1.0))
    assert 0 <= now.low <= now.high <= 1
    assert now.low <= later.low + 1e-12 and now.high <= later.high + 1e-12


def test_several_are_all_ready_no_likelier_than_the_least_likely() -> None:
    assert all_ready([]) == Chance(1.0, 1.0)
    assert all_ready([Chance(0.7, 0.7)]) == Chance(pytest.approx(0.7), 0.7)
    both = all_ready([Chance(0.7, 0.7), Chance(0.5, 0.5)])
    assert (both.low, both.high) == (pytest.approx(0.2), 0.5)
    assert all_ready([Chance(0.1, 0.1)] * 3).low == 0.0
