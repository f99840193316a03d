"""First expired, first out: nothing lost, nothing that may not be used, and no way to serve more."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from curehouse.core.stock.allocation import Allocation, LotOnHand, Take, allocate

DAYS = st.integers(0, 30)
GRAMS = st.integers(0, 2_000_000).map(lambda milligrams: milligrams / 1000)
LOTS = st.lists(
    st.builds(
        LotOnHand,
        key=st.integers(1, 10**6),
        on_hand=GRAMS,
        received_day=DAYS,
        last_day=st.none() | DAYS,
        released=st.sampled_from([True, True, True, False]),
    ),
    max_size=8,
    unique_by=lambda lot: lot.key,
)
NEEDS = st.lists(st.tuples(DAYS, GRAMS), min_size=1, max_size=6)


def test_the_lot_that_expires_first_goes_first_and_one_that_never_does_last() -> None:
    lots = [
        LotOnHand(1, 500, received_day=0),
        LotOnHand(2, 300, received_day=4, last_day=20),
        LotOnHand(3, 200, received_day=2, last_day=20),
        LotOnHand(4, 100, received_day=0, last_day=12),
        LotOnHand(5, 100, received_day=2, last_day=20),
    ]
    taken = allocate(lots, 750, day=10)
    assert taken == Allocation((Take(4, 100), Take(3, 200), Take(5, 100), Take(2, 300), Take(1, 50)), 0.0)


@pytest.mark.parametrize(
    ("lot", "served"),
    [
        (LotOnHand(1, 100, received_day=0, last_day=10), 100),
        (LotOnHand(1, 100, received_day=0, last_day=9), 0),
        (LotOnHand(1, 100, received_day=10), 100),
        (LotOnHand(1, 100, received_day=11), 0),
        (LotOnHand(1, 100, received_day=0, released=False), 0),
    ],
)
def test_a_lot_is_used_from_its_receipt_to_its_last_day_if_it_is_released(lot: LotOnHand, served: float) -> None:
    assert allocate([lot], 150, day=10).short == 150 - served


def test_nothing_is_wanted_and_less_than_nothing_is_no_amount() -> None:
    assert allocate([LotOnHand(1, 5, received_day=0)], 0, day=1) == Allocation((), 0.0)
    for amount in (-1, float("nan")):
        with pytest.raises(ValueError, match="below zero"):
            allocate([], amount, day=1)


@given(LOTS, GRAMS, DAYS)
def test_what_is_taken_and_what_is_short_are_what_was_asked_for(lots: list[LotOnHand], amount: float, day: int) -> None:
    found = allocate(lots, amount, day)
    by_key = {lot.key: lot for lot in lots}
    assert sum(take.amount for take in found.takes) + found.short == pytest.approx(amount, abs=1e-3)
    assert len({take.key for take in found.takes}) == len(found.takes)
    assert all(0 < take.amount <= by_key[take.key].on_hand for take in found.takes)
    usable = sum(lot.on_hand for lot in lots if lot.usable_on(day))
    assert found.short == pytest.approx(max(amount - usable, 0), abs=1e-3)


@given(LOTS, GRAMS, DAYS)
def test_nothing_expired_not_here_yet_or_not_released_is_ever_taken(lots: list[LotOnHand], amount: float, day: int) -> None:
    by_key = {lot.key: lot for lot in lots}
    for take in allocate(lots, amount, day).takes:
        lot = by_key[take.key]
        assert lot.released
        assert lot.received_day <= day
        assert lot.last_day is None or lot.last_day >= day


@given(LOTS, GRAMS, DAYS)
def test_no_lot_is_broken_into_while_one_that_expires_earlier_holds_something(
    lots: list[LotOnHand], amount: float, day: int
) -> None:
    found = allocate(lots, amount, day)
    taken = {take.key: take.amount for take in found.takes}
    for early in lots:
        left = early.on_hand - taken.get(early.key, 0)
        if early.usable_on(day) and left > 1e-3 and early.last_day is not None:
            later = [lot for lot in lots if lot.last_day is None or lot.last_day > early.last_day]
            assert not [lot for lot in later if lot.key in taken]


@given(st.randoms(use_true_random=False), LOTS, GRAMS, DAYS)
def test_the_order_in_which_lots_are_named_changes_nothing(dice, lots: list[LotOnHand], amount: float, day: int) -> None:
    shuffled = list(lots)
    dice.shuffle(shuffled)
    assert allocate(shuffled, amount, day) == allocate(lots, amount, day)


def served_in_order_of_days(lots: list[LotOnHand], needs: list[tuple[int, float]]) -> float:
    left = {lot.key: lot for lot in lots}
    served = 0.0
    for day, amount in sorted(needs):
        found = allocate(list(left.values()), amount, day)
        served += amount - found.short
        for take in found.takes:
            lot = left[take.key]
            left[take.key] = LotOnHand(lot.key, lot.on_hand - take.amount, lot.received_day, lot.last_day, lot.released)
    return served


def most_that_can_be_served(lots: list[LotOnHand], needs: list[tuple[int, float]]) -> float:
    """Return the optimum by SciPy's HiGHS: how much flows from lots to needs on days both allow."""
    arcs = [
        (lot, need)
        for lot, one in enumerate(lots)
        for need, (day, _amount) in enumerate(needs)
        if one.released and one.received_day <= day and (one.last_day is None or one.last_day >= day)
    ]
    if not arcs:
        return 0.0
    bounds = np.zeros((len(lots) + len(needs), len(arcs)))
    for column, (lot, need) in enumerate(arcs):
        bounds[lot, column] = bounds[len(lots) + need, column] = 1
    limits = [lot.on_hand for lot in lots] + [amount for _day, amount in needs]
    return -linprog(-np.ones(len(arcs)), A_ub=bounds, b_ub=limits).fun


@settings(max_examples=60, deadline=None)
@given(LOTS, NEEDS)
def test_no_other_way_of_taking_serves_more_over_many_days(lots: list[LotOnHand], needs: list[tuple[int, float]]) -> None:
    assert served_in_order_of_days(lots, needs) == pytest.approx(most_that_can_be_served(lots, needs), abs=0.01)


def test_the_optimum_it_is_held_against_is_beaten_by_nothing_but_missed_by_the_newest_first() -> None:
    """The control: taking from the lot that expires last serves less here, so the check can tell."""
    lots = [LotOnHand(1, 100, received_day=0, last_day=5), LotOnHand(2, 100, received_day=0, last_day=50)]
    needs = [(4, 100.0), (30, 100.0)]
    assert most_that_can_be_served(lots, needs) == pytest.approx(200)
    assert allocate([lots[0]], 100, day=30).short == 100
