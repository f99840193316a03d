"""The range to expect of a bar's next weight."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.cure.expected import expected_range
from curehouse.core.cure.foretold_weights import TENTH_SD, Foretold
from curehouse.core.cure.rule import SampleSeries
from curehouse.core.cure.series import Weighing

from .build import doubtful, series

DRYING = ((0, 125.0), (7, 119.4), (14, 116.4), (21, 114.6))


def width(expected) -> float:
    return expected.high_g - expected.low_g


def test_nothing_is_expected_of_a_bar_never_weighed():
    assert expected_range((), 7) is None
    assert expected_range(doubtful((0, 120)), 7) is None


def test_the_range_is_in_order_around_its_middle():
    expected = expected_range(series(*DRYING), 28)
    assert expected.low_g < expected.middle_g < expected.high_g
    assert expected.slack_g > 0


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_next_weight_of_a_bar_that_dries_as_usual_is_shown(count):
    day, weight_g = DRYING[count]
    expected = expected_range(series(*DRYING[:count]), day, water_share=0.2)
    assert expected.shows(weight_g)


def test_the_range_is_narrower_with_two_weighings_than_with_one():
    one = expected_range(series(*DRYING[:1]), 7, water_share=0.2)
    two = expected_range(series(*DRYING[:2]), 14, water_share=0.2)
    assert width(two) < width(one)


def test_the_range_is_narrowest_once_another_bar_has_been_weighed_in_the_round():
    other = SampleSeries("B", series((0, 120), (7, 114.6), (14, 111.7)))
    alone = expected_range(series(*DRYING[:2]), 14)
    beside = expected_range(series(*DRYING[:2]), 14, batch=(other,))
    assert width(beside) < width(alone)
    assert beside.middle_g == pytest.approx(119.4 * 111.7 / 114.6)


def test_a_fault_of_another_bar_does_not_move_what_is_expected_of_this_one():
    faulty = SampleSeries("B", series((0, 120), (7, 114.6), (14, 95.0)))
    expected = expected_range(series(*DRYING[:2]), 14, batch=(faulty,))
    assert expected.allows(DRYING[2][1])
    assert expected.middle_g == pytest.approx(DRYING[2][1], abs=2)


def test_a_wild_weight_of_another_bar_that_was_kept_does_not_widen_what_is_expected_of_this_one():
    own = series(*DRYING[:3])
    sane = SampleSeries("B", series(*DRYING))
    wild = SampleSeries("C", series(*DRYING[:3], (21, 1118.8)))
    alone = expected_range(own, 21, batch=[sane])
    assert expected_range(own, 21, batch=[sane, wild]) == alone
    assert not expected_range(own, 21, batch=[wild]).allows(181.9)


def test_doubtful_weighings_are_not_drawn_on():
    good = series(*DRYING[:3])
    marked = (*good[:2], *doubtful((10, 90)), good[2])
    assert expected_range(marked, 21) == expected_range(good, 21)


def test_later_weighings_are_not_drawn_on_when_a_missed_one_is_entered_late():
    assert expected_range(series(*DRYING), 14.0).middle_g == pytest.approx(116.4)
    late = expected_range(series(*DRYING), 10)
    assert late == expected_range(series(*DRYING[:2]), 10)


@pytest.mark.parametrize("gap", [1, 2, 7, 14, 30, 60])
def test_the_range_widens_with_the_days_between_and_stays_above_zero(gap):
    known = series(*DRYING[:2])
    expected = expected_range(known, 7 + gap)
    before = expected_range(known, 7 + gap - 0.5)
    assert width(expected) > width(before)
    assert expected.low_g - expected.slack_g > 0


@given(st.floats(0.1, 90), st.floats(20, 500), st.floats(0.05, 0.4))
def test_a_bar_weighed_once_is_never_expected_below_its_dry_weight(day, first_g, share):
    expected = expected_range((Weighing(0, first_g),), day, water_share=share, step_g=0.1)
    # Both weights are rounded to the step, and the eye rounds too.
    assert expected.low_g >= first_g * (1 - share) - 0.15 - 1e-9
    assert expected.low_g <= expected.middle_g <= expected.high_g <= first_g + 0.15


@given(
    st.lists(st.floats(-0.01, 0.06), min_size=1, max_size=6),
    st.floats(1.0, 60.0),
)
def test_the_range_is_the_same_share_of_the_weight_in_any_unit(losses, gap):
    grams = [120.0]
    for loss in losses:
        grams.append(grams[-1] * (1 - loss))
    bar = series(*((7.0 * week, weight) for week, weight in enumerate(grams)))
    tenfold = series(*((w.day, 10 * w.weight_g) for w in bar))
    day = bar[-1].day + gap
    small = expected_range(bar, day, step_g=0.1)
    large = expected_range(tenfold, day, step_g=1.0)
    for name in ("low_g", "high_g", "middle_g", "slack_g"):
        assert getattr(large, name) == pytest.approx(10 * getattr(small, name))


def foretold(as_of_day=21.0, *, middle_g=113.4, sd_g=0.4):
    """Return what was foretold of a bar: the same on every day, so that it shows what was gone by."""
    from_middle = (middle_g - TENTH_SD * sd_g, middle_g, middle_g + TENTH_SD * sd_g)
    return Foretold(as_of_day, (0.0, 28.0, 126.0), *((grams,) * 3 for grams in from_middle))


def test_what_was_foretold_is_gone_by_instead_of_the_recent_rate():
    expected = expected_range(series(*DRYING), 28, foretold=foretold(middle_g=112.0))
    assert expected.middle_g == pytest.approx(112.0)
    assert (expected.low_g, expected.high_g) == (pytest.approx(112.0 - 0.8 - 0.15), pytest.approx(112.0 + 0.8 + 0.15))
    assert expected.slack_g == pytest.approx(1.5 * 0.4 + 0.05)


def test_a_range_too_sure_of_itself_asks_nothing_about_less_than_a_gram():
    expected = expected_range(series(*DRYING), 28, foretold=foretold(sd_g=0.01))
    assert expected.allows(113.4 + 0.99)
    assert not expected.allows(113.4 + 1.5)


def test_what_was_foretold_before_the_last_weighing_is_not_gone_by():
    with_it = expected_range(series(*DRYING), 28, foretold=foretold(as_of_day=14.0))
    assert with_it == expected_range(series(*DRYING), 28)


def test_the_rounds_other_bars_still_narrow_what_was_foretold():
    other = SampleSeries("B", series((0, 120), (14, 111.7), (21, 110.0), (28, 109.0)))
    alone = expected_range(series(*DRYING), 28, foretold=foretold(sd_g=1.0))
    beside = expected_range(series(*DRYING), 28, batch=(other,), foretold=foretold(sd_g=1.0))
    assert width(beside) < width(alone)
    assert beside.middle_g == pytest.approx(114.6 * 109.0 / 110.0)


def test_between_days_what_was_foretold_lies_on_a_straight_line():
    told = Foretold(0.0, (0.0, 10.0), (90.0, 80.0), (100.0, 90.0), (110.0, 100.0))
    assert told.on(4.0)[0] == pytest.approx(96.0)
    assert told.on(-1.0)[0] == 100.0 and told.on(99.0)[0] == 90.0
