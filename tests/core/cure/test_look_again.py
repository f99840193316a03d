"""Doubtful weighings: left out, and 'look again' where they would matter."""

import pytest

from curehouse.core.cure.rule import CheckOutcome, State

from .build import assess_in_plain_spaces as assess
from .build import batch, doubtful, losing, series


def test_a_doubtful_weighing_that_would_make_it_ready_calls_for_another_look():
    # Good up to day 28: losing 0.9 %. The doubtful one says nothing more was lost.
    bar = (*series((21, 100.9), (28, 100.0)), *doubtful((35, 100.0)))
    verdict = assess(batch(bar, day=35))
    assert verdict.state is State.LOOK_AGAIN
    assert verdict.state_without_doubtful is State.CURING
    assert verdict.state_with_doubtful is State.READY
    assert verdict.weekly_loss_pct == pytest.approx(0.9)


def test_a_doubtful_weighing_that_would_undo_ready_calls_for_another_look():
    bar = (*series((21, 100.5), (28, 100.0)), *doubtful((35, 97.0)))
    verdict = assess(batch(bar, day=35))
    assert verdict.state is State.LOOK_AGAIN
    assert verdict.state_without_doubtful is State.READY
    assert verdict.state_with_doubtful is State.CURING


def test_a_doubtful_weighing_that_changes_nothing_is_only_named():
    bar = (*series((7, 110), (14, 107)), *doubtful((21, 170)))
    verdict = assess(batch(bar, day=21))
    assert verdict.state is State.CURING
    assert verdict.state_with_doubtful is State.CURING
    assert [r.text for r in verdict.reasons if r.code == "doubtful"] == [
        "Bar A on day 21: left out of the verdict until confirmed or corrected."
    ]


def test_look_again_says_what_hangs_on_it_first_and_only_asks_to_settle_it():
    bar = (*series((21, 100.5), (28, 100.0)), *doubtful((35, 97.0)))
    verdict = assess(batch(bar, day=35))
    assert verdict.reasons[0].text == ("Without the doubtful weighing this batch is ready, with it curing.")
    assert verdict.reasons[1].figures[1].value == 97.0
    assert verdict.advice == ("Confirm or correct the doubtful weighing.",)


def test_look_again_still_says_what_a_failed_check_asks_for():
    bar = (*series((21, 100.5), (28, 100.0)), *doubtful((35, 97.0)))
    verdict = assess(batch(bar, day=35, check=CheckOutcome.FAILED))
    assert verdict.state is State.LOOK_AGAIN
    assert any("rework or destroy" in step for step in verdict.advice)


def test_two_doubtful_weighings_that_cancel_out_together_are_tried_one_by_one():
    # Together their median is a loss of 0.5 %; the second alone makes it 2.35 %.
    good = series((21, 100.7), (28, 100.0))
    up = (*good, *doubtful((35, 100 / 0.97)))
    down = (*good, *doubtful((35, 100 / 1.04)))
    assert assess(batch(good, good, day=35)).state is State.READY
    both_trusted = (losing(-3, until=35), losing(4, until=35))
    assert assess(batch(*both_trusted, day=35)).state is State.READY
    verdict = assess(batch(up, down, day=35))
    assert verdict.state is State.LOOK_AGAIN
    assert verdict.state_with_doubtful is State.CURING


def test_a_batch_whose_only_new_weighing_is_doubtful_counts_as_weighed():
    bar = (*series((0, 120), (7, 114), (14, 111)), *doubtful((28, 80)))
    verdict = assess(batch(bar, day=28))
    assert verdict.state is not State.NOT_WEIGHED
    assert verdict.weekly_loss_pct is None
    assert "the newest weighings are doubtful" in verdict.reasons[0].text


def test_confirming_a_weighing_is_the_same_as_never_having_doubted_it():
    good = series((21, 100.5), (28, 100.0))
    confirmed = assess(batch((*good, *series((35, 99.5))), day=35))
    asked = assess(batch((*good, *doubtful((35, 99.5))), day=35))
    assert confirmed.state is State.READY
    assert asked.state_with_doubtful is confirmed.state
