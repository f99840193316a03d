"""Days to pour on: they and the chance are each other's way back, and nothing gets likelier by pouring later."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.planning.pour_day import SHARES, chance_by, latest_pours
from curehouse.core.planning.ready_days import ReadyDays

DAYS = st.builds(
    lambda days, never: ReadyDays(tuple(sorted(days)), len(days) + never, 125),
    st.lists(st.integers(28, 125), min_size=1, max_size=60),
    st.integers(0, 20),
)


@given(DAYS, st.integers(739_000, 740_000), st.integers(0, 5))
def test_the_latest_pour_is_the_last_day_with_that_chance(ready: ReadyDays, wanted_on: int, cut_after: int) -> None:
    for one in latest_pours(ready, wanted_on=wanted_on, cut_after_days=cut_after):
        if one.pour_on is None:
            assert ready.share_by(ready.last_day) < one.share
            continue
        on_it, after = (
            chance_by(ready, pour_on=day, wanted_on=wanted_on, cut_after_days=cut_after)
            for day in (one.pour_on, one.pour_on + 1)
        )
        assert on_it >= one.share > after


@given(DAYS, st.integers(0, 200), st.integers(0, 200))
def test_pouring_later_never_makes_it_likelier(ready: ReadyDays, one: int, other: int) -> None:
    early, late = sorted((one, other))
    chances = [chance_by(ready, pour_on=day, wanted_on=150, cut_after_days=1) for day in (early, late)]
    assert chances[0] >= chances[1]


def test_days_and_shares_are_each_others_way_back() -> None:
    found = ReadyDays((28, 28, 31, 40), 5, 125)
    assert [found.share_by(day) for day in (27, 28, 31, 39, 40, 125)] == [0, 0.4, 0.6, 0.6, 0.8, 0.8]
    assert [found.day_of(share) for share in (0.2, 0.4, 0.6, 0.8, 0.81, 1)] == [28, 28, 31, 40, None, None]
    assert tuple(sorted(SHARES)) == SHARES


@pytest.mark.parametrize(("days", "count", "last"), [((30, 29), 2, 125), ((), 0, 125), ((126,), 1, 125), ((28, 29), 1, 125)])
def test_days_that_cannot_be_are_refused(days: tuple[int, ...], count: int, last: int) -> None:
    with pytest.raises(ValueError, match=r"nothing is expected|stand in order"):
        ReadyDays(days, count, last)


def test_a_share_that_is_none_and_a_cut_before_the_pour_are_refused() -> None:
    ready = ReadyDays((28,), 1, 125)
    with pytest.raises(ValueError, match="a share lies"):
        ready.day_of(0)
    with pytest.raises(ValueError, match="cut after"):
        latest_pours(ready, wanted_on=739_000, cut_after_days=-1)
