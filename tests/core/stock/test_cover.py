"""The recent rate of use, and how long what is here lasts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.stock.cover import RECENT_DAYS, SHORTEST_DAYS, daily_use, days_of_cover

GRAMS = st.floats(0.001, 1e6)
SPANS = st.floats(0, 4000)


@pytest.mark.parametrize(
    ("used", "known_days", "a_day"),
    [(900, 400, 10), (900, 90, 10), (900, 45, 20), (140, 14, 10), (140, 2, 10), (140, 0, 10), (0, 400, None), (-5, 400, None)],
)
def test_the_rate_counts_ninety_days_or_the_known_span_but_a_fortnight_at_least(
    used: float, known_days: float, a_day: float | None
) -> None:
    assert daily_use(used, known_days) == a_day


def test_what_is_not_used_lasts_nobody_knows_how_long() -> None:
    assert days_of_cover(500, None) is None
    assert days_of_cover(0, 10) == 0


@given(GRAMS, SPANS, GRAMS)
def test_at_its_rate_the_stock_is_used_up_when_its_cover_ends(used: float, known_days: float, usable: float) -> None:
    a_day = daily_use(used, known_days)
    assert a_day is not None
    assert days_of_cover(usable, a_day) * a_day == pytest.approx(usable)
    assert used / RECENT_DAYS <= a_day <= used / SHORTEST_DAYS


@given(GRAMS, SPANS, SPANS)
def test_the_same_use_over_a_longer_span_is_no_faster(used: float, one: float, other: float) -> None:
    short, long = sorted((one, other))
    assert daily_use(used, long) <= daily_use(used, short)
