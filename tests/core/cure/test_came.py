"""The day a batch became ready, by its weighings alone: tables worked by hand, and what holds of any weighings."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.cure.came import Came, WhyUnknown, came_of
from curehouse.core.cure.rule import RuleLimits
from curehouse.core.cure.series import Weighing

LIMITS = RuleLimits(min_days=28, weekly_loss_limit_pct=1.0, latest_day=56)


def bar(weights: dict[int, float], step_g: float | None = None) -> dict[int, Weighing]:
    return {day: Weighing(float(day), grams, step_g=step_g) for day, grams in weights.items()}


def came(*bars: dict[int, float], limits: RuleLimits = LIMITS, water: float | None = None, step_g: float | None = None) -> Came:
    return came_of({"ABC"[n]: bar(one, step_g) for n, one in enumerate(bars)}, limits, water)


def losing(start: int, last_g: float, percents: dict[int, float]) -> dict[int, float]:
    """Return weekly weighings with these losses of a week in % of the weight then, the newest weighing last_g."""
    days, grams = sorted(percents), last_g
    weights = {days[-1]: last_g}
    for day in reversed(days):
        grams = grams * (1 + percents[day] / 100)
        weights[day - 7] = grams
    assert min(weights) == start
    return dict(sorted(weights.items()))


# weekly losses by day of weighing -> the day by hand: between day a (loss x) and b (loss y) at a + 7 (x - 1) / (x - y),
# and the first whole day from there on.
BY_HAND = [
    ({7: 5.0, 14: 3.0, 21: 2.0, 28: 1.5, 35: 0.8}, 33, 35, 28),  # 28 + 7 · 0.5 / 0.7 = 33.0
    ({7: 5.0, 14: 3.0, 21: 2.0, 28: 1.2, 35: 0.5}, 30, 35, 28),  # 28 + 7 · 0.2 / 0.7 = 30.0
    ({7: 5.0, 14: 3.0, 21: 2.0, 28: 1.3, 35: 1.1, 42: 0.4}, 36, 42, 35),  # 35 + 7 · 0.1 / 0.7 = 36.0
    ({7: 5.0, 14: 3.0, 21: 2.0, 28: 1.5, 35: 0.9}, 34, 35, 28),  # 28 + 7 · 0.5 / 0.6 = 33.8
    ({7: 5.0, 14: 3.0, 21: 0.9, 28: 0.5}, 28, 28, 14),  # dry before its least age
    ({7: 5.0, 14: 3.0, 21: 2.0, 28: 0.9}, 28, 28, 21),  # at its least age
    ({7: 5.0, 14: 3.0, 21: 2.0, 28: 1.0}, 28, 28, 21),  # just at the limit
]


@pytest.mark.parametrize(("percents", "ready", "seen", "wet"), BY_HAND)
def test_the_day_is_where_the_line_of_the_weekly_loss_meets_the_limit(
    percents: dict[int, float], ready: int, seen: int, wet: int
) -> None:
    assert came(losing(0, 100.0, percents)) == Came(ready, seen, wet, None)


def test_of_several_bars_the_median_counts() -> None:
    slow = losing(0, 100.0, {7: 6.0, 14: 4.0, 21: 3.0, 28: 2.5, 35: 2.0})
    middle = losing(0, 110.0, {7: 5.0, 14: 3.0, 21: 2.0, 28: 1.5, 35: 0.8})
    fast = losing(0, 90.0, {7: 4.0, 14: 1.0, 21: 0.5, 28: 0.3, 35: 0.1})
    assert came(slow, middle, fast).ready_day == 33


def test_with_a_limit_of_the_water_the_later_of_both_lines_counts() -> None:
    limits = RuleLimits(min_days=28, weekly_loss_limit_pct=1.0, latest_day=56, water_left_limit_pct=30.0)
    # 120 g with 30 % of water: 36 g. On day 28 there are 36 − 24 = 12 g (33.3 %), on day 35 36 − 25.2 = 10.8 g (30 %).
    weights = {0: 120.0, 7: 104.0, 14: 98.0, 21: 96.5, 28: 96.0, 35: 94.8}
    found = came(weights, limits=limits, water=0.3)
    # The loss of the last week is over its limit by day 35 (1.27 %).
    assert found == Came(None, None, 35, WhyUnknown.STILL_WET)
    weights[42] = 94.2
    # Loss: 1.266 % on day 35, 0.637 % on day 42: 1 % at 35 + 7 · 0.266 / 0.629 = 37.96.
    assert came(weights, limits=limits, water=0.3) == Came(38, 42, 35, None)
    strict = RuleLimits(min_days=28, weekly_loss_limit_pct=1.0, latest_day=56, water_left_limit_pct=28.5)
    # Water: 30 % on day 35, 28.33 % on day 42: 28.5 % at 35 + 7 · 1.5 / 1.667 = 41.3.
    assert came(weights, limits=strict, water=0.3).ready_day == 42


def test_without_the_water_that_went_in_a_limit_of_it_tells_nothing() -> None:
    limits = RuleLimits(min_days=28, weekly_loss_limit_pct=1.0, latest_day=56, water_left_limit_pct=30.0)
    found = came(losing(0, 100.0, BY_HAND[0][0]), limits=limits)
    assert (found.ready_day, found.why_unknown) == (None, WhyUnknown.NOT_WEIGHED)


@pytest.mark.parametrize(
    ("weights", "why"),
    [
        ({}, WhyUnknown.NOT_WEIGHED),
        ({0: 130.0}, WhyUnknown.NOT_WEIGHED),
        ({0: 130.0, 7: 124.0, 14: 120.0, 21: 118.0}, WhyUnknown.NOT_WEIGHED),
        ({0: 130.0, 7: 124.0, 14: 120.0, 21: 118.0, 28: 116.0}, WhyUnknown.STILL_WET),
        # Nothing tells of the week before day 40: it may have been dry for long.
        ({0: 130.0, 21: 118.0, 33: 116.0, 40: 115.9}, WhyUnknown.TOO_FAR_APART),
    ],
)
def test_where_nobody_knows_the_day_it_says_why(weights: dict[int, float], why: WhyUnknown) -> None:
    found = came(weights)
    assert (found.ready_day, found.why_unknown) == (None, why)


def test_a_scale_that_hides_the_loss_tells_nothing() -> None:
    weights = {0: 40.0, 7: 36.0, 14: 34.0, 21: 33.0, 28: 33.0, 35: 33.0}
    assert came(weights, step_g=0.1).ready_day == 28
    assert came(weights, step_g=1.0).why_unknown is WhyUnknown.NOT_WEIGHED


days = st.lists(st.integers(0, 14), min_size=2, max_size=9).map(lambda gaps: [sum(gaps[: n + 1]) for n in range(len(gaps))])
series = st.builds(
    lambda on, grams: dict(zip(sorted(set(on)), grams, strict=False)),
    days,
    st.lists(st.floats(80, 130), min_size=9, max_size=9),
)


@given(st.lists(series, min_size=1, max_size=3), st.integers(0, 60))
def test_a_day_lies_between_the_weighings_that_bound_it_and_never_before_the_least_age(
    bars: list[dict[int, float]], min_days: int
) -> None:
    found = came(*bars, limits=RuleLimits(min_days=min_days, weekly_loss_limit_pct=1.0, latest_day=90))
    assert (found.ready_day is None) == (found.why_unknown is not None)
    if found.ready_day is not None:
        assert found.seen_day is not None
        assert min_days <= found.ready_day <= found.seen_day
        assert found.wet_day is None or found.wet_day < found.seen_day
        if found.wet_day is not None and found.wet_day >= min_days:
            assert found.wet_day < found.ready_day


@given(series, st.floats(0.5, 2.0))
def test_the_unit_of_weight_is_no_matter(weights: dict[int, float], times: float) -> None:
    doubled = {day: 2 * grams for day, grams in weights.items()}
    assert came(weights) == came(doubled)


@given(series, st.integers(1, 20))
def test_what_is_weighed_after_it_was_seen_dry_changes_nothing(weights: dict[int, float], later: int) -> None:
    before = came(weights)
    if before.seen_day is not None:
        assert came({**weights, max(weights) + later: 70.0}) == before
