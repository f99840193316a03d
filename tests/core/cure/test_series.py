"""The loss over the last seven days, total loss and water left, by hand."""

import math
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.cure.series import (
    LossRead,
    Weighing,
    in_order,
    loss_over_last_seven_days,
    total_loss,
    water_left,
    without_doubtful,
)

from .build import doubtful, series

GRAMS_PER_OUNCE = 28.349523125

# name: weighings, weekly loss in % by hand (None: no weekly loss yet), how it was got
BY_HAND = {
    "one weighing only": ([(0, 120)], None, None),
    "first weighing 4.9 days back": ([(0, 120), (4.9, 115)], None, None),
    "first weighing 5 days back": ([(0, 120), (5, 115)], 100 * 5 * 7 / 5 / 115, LossRead.SCALED),
    "first weighing 6 days back": ([(0, 120), (6, 114)], 100 * 6 * 7 / 6 / 114, LossRead.SCALED),
    "first weighing 6.99 days back": (
        [(0, 120), (6.99, 114)],
        100 * 6 * 7 / 6.99 / 114,
        LossRead.SCALED,
    ),
    "first weighing 7 days back": ([(0, 120), (7, 114)], 100 * 6 / 114, LossRead.LINE),
    "a weighing exactly 7 days back": (
        [(0, 120), (14, 110), (21, 108)],
        100 * 2 / 108,
        LossRead.LINE,
    ),
    "a line over 10 days": ([(0, 120), (10, 110), (12, 109)], 100 * 6 / 109, LossRead.LINE),
    "a line over 10.1 days": ([(0, 120), (10.1, 110), (12, 109)], None, None),
    "the line ends in the newest": ([(0, 120), (9, 111)], 100 * (118 - 111) / 111, LossRead.LINE),
    "a gap that isn't around the day seven back": (
        [(0, 120), (20, 108), (24, 107), (28, 106)],
        100 * 1.75 / 106,
        LossRead.LINE,
    ),
    "two weeks missed, then one": ([(0, 120), (7, 114), (28, 108)], None, None),
    "a humid week": ([(28, 100), (35, 100.5)], -100 * 0.5 / 100.5, LossRead.LINE),
    "nothing lost": ([(28, 100), (35, 100)], 0.0, LossRead.LINE),
}


@pytest.mark.parametrize(("pairs", "percent", "read"), BY_HAND.values(), ids=BY_HAND)
def test_weekly_loss_is_what_the_hand_works_out(pairs, percent, read):
    weekly = loss_over_last_seven_days(series(*pairs))
    if percent is None:
        assert weekly is None
    else:
        assert weekly.percent == pytest.approx(percent, abs=1e-12)
        assert weekly.read is read
        assert weekly.as_of_day == pairs[-1][0]


def test_weekly_loss_names_the_two_weighings_it_was_read_between():
    weekly = loss_over_last_seven_days(series((0, 120), (10, 110), (12, 109)))
    assert (weekly.before.day, weekly.after.day, weekly.span_days) == (0, 10, 10)
    assert weekly.loss_g == pytest.approx(6)


def test_weekly_loss_names_the_weighing_itself_when_it_lies_seven_days_back():
    weekly = loss_over_last_seven_days(series((0, 120), (14, 110), (21, 108)))
    assert weekly.before == weekly.after == Weighing(14, 110)
    assert weekly.span_days == 0


def test_weekly_loss_is_none_without_a_weighing():
    assert loss_over_last_seven_days(()) is None


def test_weekly_loss_does_not_jump_where_scaling_ends():
    def at(first_days_back: float) -> float:
        return loss_over_last_seven_days(series((0, 120), (first_days_back, 114))).percent

    assert at(7 - 1e-7) == pytest.approx(at(7), rel=1e-6)
    assert at(7) == pytest.approx(at(7 + 1e-7), rel=1e-6)


@pytest.mark.parametrize("noise_days", [-1e-9, 1e-9])
def test_weekly_loss_takes_the_weighing_itself_when_moments_carry_float_noise(noise_days):
    weekly = loss_over_last_seven_days(series((0, 120), (12, 110), (19 + noise_days, 108)))
    assert weekly.loss_g == pytest.approx(2)


def test_weekly_loss_is_the_same_in_any_order_of_weighings():
    weighings = series((0, 120), (8, 114), (13, 111), (21, 108))
    results = {loss_over_last_seven_days(order) for order in permutations(weighings)}
    assert len(results) == 1


def test_weighings_of_one_moment_become_their_mean():
    assert in_order(series((7, 112), (0, 120), (7, 113))) == series((0, 120), (7, 112.5))


def test_weighings_of_one_moment_stay_doubtful_when_one_of_them_is():
    assert in_order((*series((7, 112)), *doubtful((7, 113))))[0].doubtful


def test_doubtful_weighings_are_left_out_on_request():
    assert without_doubtful((*series((0, 120)), *doubtful((7, 99)))) == series((0, 120))


def test_total_loss_counts_from_the_first_weighing():
    total = total_loss(series((0, 125), (7, 118), (14, 115)))
    assert total.percent == pytest.approx(8.0)
    assert total.loss_g == pytest.approx(10)
    assert total.starts_at_cut


def test_total_loss_is_negative_when_the_bar_gained():
    assert total_loss(series((0, 100), (7, 101))).percent == pytest.approx(-1)


@pytest.mark.parametrize(("day", "at_cut"), [(0, True), (1, True), (1.01, False), (5, False)])
def test_a_late_first_weighing_is_told(day, at_cut):
    assert total_loss(series((day, 120), (14, 110))).starts_at_cut is at_cut
    left = water_left(series((day, 120), (14, 110)), 0.2)
    assert left.starts_at_cut is at_cut


def test_water_left_is_what_the_hand_works_out():
    # 20 % of 125 g are 25 g of water; 10 g have gone, 15 g are left.
    left = water_left(series((0, 125), (28, 115)), 0.2)
    assert left.water_g == pytest.approx(15)
    assert left.of_what_went_in_pct == pytest.approx(60)
    assert left.of_bar_now_pct == pytest.approx(100 * 15 / 115)


def test_water_left_goes_below_zero_when_more_than_the_water_left():
    assert water_left(series((0, 100), (28, 85)), 0.1).of_what_went_in_pct == pytest.approx(-50)


@pytest.mark.parametrize("share", [0, 1, -0.1, 1.2])
def test_water_left_refuses_an_impossible_water_share(share):
    with pytest.raises(ValueError, match="water_share"):
        water_left(series((0, 100)), share)


def test_figures_are_none_without_a_weighing():
    assert total_loss(()) is None
    assert water_left((), 0.2) is None


@pytest.mark.parametrize("weight_g", [0, -1, math.nan, math.inf])
def test_a_weighing_refuses_an_impossible_weight(weight_g):
    with pytest.raises(ValueError, match="weight_g"):
        Weighing(0, weight_g)


def test_a_weighing_refuses_a_day_that_is_no_number():
    with pytest.raises(ValueError, match="day"):
        Weighing(math.nan, 100)


weights = st.lists(
    st.tuples(st.floats(0, 120), st.floats(20, 300)),
    min_size=1,
    max_size=12,
    unique_by=lambda pair: pair[0],
)


@given(weights)
def test_percentages_are_the_same_in_grams_and_ounces(pairs):
    in_grams = series(*pairs)
    in_ounces = series(*((day, weight / GRAMS_PER_OUNCE) for day, weight in pairs))
    for figure in (loss_over_last_seven_days, total_loss):
        grams, ounces = figure(in_grams), figure(in_ounces)
        assert (grams is None) == (ounces is None)
        if grams is not None:
            assert ounces.percent == pytest.approx(grams.percent, abs=1e-9)
    assert water_left(in_ounces, 0.2).of_what_went_in_pct == pytest.approx(
        water_left(in_grams, 0.2).of_what_went_in_pct, abs=1e-9
    )


@given(weights, st.floats(0.001, 50))
def test_weekly_loss_is_smaller_when_the_newest_weight_is_heavier(pairs, heavier_g):
    lighter = series(*sorted(pairs))
    newest = lighter[-1]
    heavier = (*lighter[:-1], Weighing(newest.day, newest.weight_g + heavier_g))
    before, after = loss_over_last_seven_days(lighter), loss_over_last_seven_days(heavier)
    if before is None:
        assert after is None
    else:
        assert after.percent < before.percent


@given(weights)
def test_weekly_loss_is_read_between_weighings_no_further_apart_than_ten_days(pairs):
    weekly = loss_over_last_seven_days(series(*pairs))
    if weekly is not None:
        assert weekly.span_days <= 10 + 1e-6
        lightest, heaviest = sorted((weekly.before.weight_g, weekly.after.weight_g))
        if weekly.read is LossRead.LINE:
            now_g = max(series(*pairs), key=lambda w: w.day).weight_g
            assert lightest - 1e-9 <= now_g + weekly.loss_g <= heaviest + 1e-9
