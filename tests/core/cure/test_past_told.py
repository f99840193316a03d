"""Forecasts held against what came: tables worked by hand, the binomial test against SciPy, and what holds of any."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from curehouse.core.cure.came import Came, WhyUnknown
from curehouse.core.cure.past_told import (
    CHANCE,
    LEAST_BATCHES,
    LIKELY_SOFT,
    PROMISED,
    Judged,
    Promise,
    Range,
    Told,
    at_most,
    bucket,
    is_foresight,
    judged,
    late_day,
    promise_of,
    scores,
)
from curehouse.flows.forecast_notices import SOFT_FROM

WET = WhyUnknown.STILL_WET


def told(
    low: float, middle: float, high: float, *, weighings: int = 2, known: int = 14, soft: float = 0.0, **also: Range
) -> Told:
    return Told(weighings, known, 56, Range(low, middle, high), soft, 42 if also else None, also)


def ready(day: int, seen: int | None = None) -> Came:
    return Came(day, day if seen is None else seen, None, None)


def wet(day: int) -> Came:
    return Came(None, None, day, WET)


def against(one: Told, came: Came, read: dict[str, float] | None = None, step_g: float = 0.1) -> Judged:
    grams = read or {}
    return judged(one, came, grams, dict.fromkeys(grams, step_g))


# told p10, p50, p90; what came; held, off by, too soft
BY_HAND = [
    (told(30, 34, 40), ready(30), True, 4, False),
    (told(30, 34, 40), ready(40), True, -6, False),
    (told(30, 34, 40), ready(29), False, 5, False),
    (told(30, 34, 40), ready(41), False, -7, False),
    (told(30, 34, 40), ready(57), False, -23, True),
    # Wet on the last day named: the range did not hold, and the day is not known.
    (told(30, 34, 40), wet(40), False, None, None),
    (told(30, 34, 40), wet(60), False, None, True),
    # Wet before it: nobody knows.
    (told(30, 34, 40), wet(39), None, None, None),
    # That it was wet was known when it was told.
    (told(30, 34, 40, known=42), wet(42), None, None, None),
    # Dry at some time between weighings too far apart.
    (told(30, 34, 40), Came(None, 50, 33, WhyUnknown.TOO_FAR_APART), None, None, False),
    (told(30, 34, 40), Came(None, 70, 57, WhyUnknown.TOO_FAR_APART), None, None, True),
    (told(30, 34, 40), Came(None, 70, 50, WhyUnknown.TOO_FAR_APART), None, None, None),
]


@pytest.mark.parametrize(("one", "came", "held", "off", "soft"), BY_HAND)
def test_days_named_hold_if_the_day_lies_in_them(
    one: Told, came: Came, *, held: bool | None, off: float | None, soft: bool | None
) -> None:
    found = against(one, came)
    assert (found.held, found.off_days, found.was_soft) == (held, off, soft)


def test_a_weight_is_allowed_half_a_step_of_its_scale_and_no_more() -> None:
    one = told(30, 34, 40, A=Range(99.0, 100.0, 101.0), B=Range(50.0, 50.5, 51.0))
    for read_g, step_g, held in ((101.05, 0.1, True), (101.06, 0.1, False), (98.5, 1.0, True), (98.4, 1.0, False)):
        (weight,) = against(one, ready(33), {"A": read_g}, step_g).weights
        assert (weight.held, weight.off_g) == (held, pytest.approx(100.0 - read_g))
    assert [bar.bar for bar in against(one, ready(33), {"B": 50.2, "A": 100.0, "C": 1.0}).weights] == ["A", "B"]


def test_a_late_weighing_lies_two_weeks_on_and_the_last_counts() -> None:
    assert late_day([0, 7, 14, 21], 7) == 21
    assert late_day([0, 7, 14, 20], 7) is None
    assert late_day([0, 7, 28, 35], 14) == 35


def test_what_was_told_once_it_was_seen_is_no_foresight() -> None:
    assert is_foresight(34, ready(30, seen=35))
    assert not is_foresight(35, ready(30, seen=35))
    assert is_foresight(70, wet(70))


def test_a_table_by_hand() -> None:
    """Ten batches after two weighings: six as told, one sooner, three later; weights of two bars of each."""
    days = [30, 31, 33, 34, 35, 36, 28, 45, 47, 40]
    all_judged = []
    for n, day in enumerate(days):
        one = told(30, 34, 36, soft=0.5 if n in (7, 8) else 0.1, A=Range(99, 100, 101), B=Range(99, 100, 101))
        all_judged.append(against(one, ready(day), {"A": 100.0 + n / 10, "B": 99.45}))
    all_judged.append(against(told(30, 34, 36, weighings=7), ready(35)))
    score = scores(all_judged)
    assert [one.weighings for one in score] == [1, 2, 3, 4, 5]
    days_held, weight, soft = score[1].ready, score[1].weight, score[1].soft
    assert (days_held.batches, days_held.ranges, days_held.held) == (10, 10, 6)
    # |off|: 4 3 1 0 1 2 6 11 13 6 = 47; off: 4 3 1 0 −1 −2 6 −11 −13 −6 = −19
    assert (days_held.mean_error, days_held.bias) == (4.7, -1.9)
    # A: 0.0 … −0.9; B: 0.55 each: |off| 4.5 + 5.5 of 20 bars; off −4.5 + 5.5
    assert (weight.batches, weight.ranges, weight.held) == (10, 20, 20)
    assert (weight.mean_error, weight.bias) == (0.5, 0.05)
    assert (soft.batches, soft.told, soft.told_and_were, soft.were, soft.were_and_told) == (10, 2, 0, 0, 0)
    assert (score[4].ready.batches, score[4].ready.promise, score[4].ready.mean_error) == (1, Promise.TOO_FEW, None)


def test_warnings_are_counted_both_ways() -> None:
    group = [
        against(told(30, 34, 40, soft=chance), came)
        for chance, came in ((0.9, ready(60)), (0.6, ready(50)), (0.5, wet(60)), (0.1, ready(70)), (0.1, ready(30)))
    ]
    soft = scores(group)[1].soft
    assert (soft.batches, soft.told, soft.told_and_were, soft.were, soft.were_and_told) == (5, 3, 2, 3, 2)


def test_likely_soft_is_what_a_notice_is_told_of() -> None:
    assert LIKELY_SOFT == SOFT_FROM


@pytest.mark.parametrize(
    ("held", "of", "promise"),
    [
        (9, 9, Promise.TOO_FEW),
        (0, 9, Promise.TOO_FEW),
        (10, 10, Promise.KEPT),
        (5, 10, Promise.KEPT),  # 0.033
        (4, 10, Promise.TOO_SELDOM),  # 0.0064
        (28, 34, Promise.KEPT),
        (21, 34, Promise.KEPT),  # 0.0105
        (20, 34, Promise.TOO_SELDOM),
        (20, 20, Promise.KEPT),  # 0.8^20 = 0.0115
        (21, 21, Promise.TOO_OFTEN),  # 0.8^21 = 0.0092
    ],
)
def test_clearly_is_what_comes_by_chance_in_fewer_than_one_of_a_hundred(held: int, of: int, promise: Promise) -> None:
    assert promise_of([1.0] * held + [0.0] * (of - held)) is promise


def test_bars_of_one_batch_count_as_one() -> None:
    # Thirty bars of ten batches, of five none held: as bars that were clearly too few, as batches it is not.
    assert promise_of([1.0] * 5 + [0.0] * 5) is Promise.KEPT
    assert promise_of([1.0] * 15 + [0.0] * 15) is Promise.TOO_SELDOM


@given(st.integers(1, 400), st.data())
def test_the_binomial_distribution_is_scipys(of: int, data: st.DataObject) -> None:
    held = data.draw(st.integers(-1, of))
    assert at_most(held, of, PROMISED) == pytest.approx(binom.cdf(held, of, PROMISED), abs=1e-12)


@given(st.integers(LEAST_BATCHES, 200), st.data())
def test_what_is_said_of_ranges_is_what_scipys_exact_test_says(of: int, data: st.DataObject) -> None:
    held = data.draw(st.integers(0, of))
    found = promise_of([1.0] * held + [0.0] * (of - held))
    seldom = binomtest(held, of, PROMISED, alternative="less").pvalue < CHANCE
    often = binomtest(held, of, PROMISED, alternative="greater").pvalue < CHANCE
    assert found is (Promise.TOO_SELDOM if seldom else Promise.TOO_OFTEN if often else Promise.KEPT)


@given(st.lists(st.floats(0, 1), min_size=LEAST_BATCHES, max_size=60))
def test_shares_are_rounded_towards_the_promise(shares: list[float]) -> None:
    found = promise_of(shares)
    if found is Promise.TOO_SELDOM:
        assert sum(shares) / len(shares) < PROMISED
    if found is Promise.TOO_OFTEN:
        assert sum(shares) / len(shares) > PROMISED


@given(st.lists(st.tuples(st.integers(28, 120), st.integers(28, 60), st.integers(0, 20), st.integers(1, 9)), max_size=40))
def test_counts_add_up_whatever_was_told(rows: list[tuple[int, int, int, int]]) -> None:
    group = [against(told(low, low + wide // 2, low + wide, weighings=n), ready(day)) for day, low, wide, n in rows]
    found = scores(group)
    assert sum(one.ready.batches for one in found) == len(group)
    for one in found:
        assert 0 <= one.ready.held <= one.ready.batches
        assert (one.ready.mean_error is None) == (one.ready.batches < LEAST_BATCHES)
        if one.ready.mean_error is not None and one.ready.bias is not None:
            assert abs(one.ready.bias) <= one.ready.mean_error + 0.1


def test_no_weighing_is_no_forecast() -> None:
    with pytest.raises(ValueError, match="one weighing or more"):
        bucket(0)
    assert [bucket(n) for n in (1, 4, 5, 12)] == [1, 4, 5, 5]
