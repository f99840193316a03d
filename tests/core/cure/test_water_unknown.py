"""Water left where nobody can know it: no weighing at the cut, or more lost than there was."""

import pytest

from curehouse.core.cure.rule import CheckOutcome, RuleLimits, State
from tests.core.cure.build import assess_in_plain_spaces as assess
from tests.core.cure.build import batch, losing, series

WATER_LIMIT = RuleLimits(water_left_limit_pct=35)


def said(verdict):
    return " ".join(reason.text for reason in verdict.reasons)


def test_a_batch_first_weighed_late_has_no_water_left_and_says_from_when_its_loss_counts():
    verdict = assess(batch(series((35, 110.0)), day=35, water_share=0.2))
    assert verdict.water_left_pct is None
    assert verdict.water_left_of_bar_pct is None
    assert [bar.water_left_pct for bar in verdict.bars] == [None]
    assert verdict.total_loss_pct == 0
    assert verdict.bars[0].start_day == 35
    assert (
        "No bar was weighed at the cut: the water left is not known, "
        "and the total loss is that since its first weighing on day 35."
    ) in said(verdict)


def test_a_bar_weighed_at_the_cut_knows_the_water_for_those_that_were_not():
    verdict = assess(batch(series((0, 125), (28, 115)), losing(0.5, until=28), day=28, water_share=0.2))
    assert verdict.water_left_pct == pytest.approx(60)
    assert "Bar B was first weighed on day 14, not at the cut; what was lost before isn't counted." in said(verdict)


@pytest.mark.parametrize("day", [35, 70])
def test_a_water_limit_that_cannot_be_judged_makes_neither_dry_nor_soft_and_says_what_can_be_done(day):
    verdict = assess(batch(losing(0.3, until=day), day=day, water_share=0.2), WATER_LIMIT)
    assert verdict.state is State.CURING
    assert not verdict.dry_enough
    assert "how much is left is not known: no bar was weighed at the cut." in said(verdict)
    assert verdict.advice[0].startswith("If a weight from the day of the cut is on paper, enter it")


LOST_TOO_MUCH = series((0, 120), (21, 97.0), (28, 96.8))


@pytest.mark.parametrize(("check", "state"), [(CheckOutcome.PASSED, State.READY), (CheckOutcome.NONE, State.CHECK_DUE)])
def test_more_lost_than_went_in_is_said_before_anything_else(check, state):
    verdict = assess(batch(LOST_TOO_MUCH, day=28, check=check, water_share=0.16))
    assert verdict.state is state
    assert verdict.reasons[0].text == (
        "It has lost 121 % of the water that went in, more than there was: "
        "its fats, liquids or water share as entered, or a weighing, must be wrong."
    )
    assert verdict.advice[0].startswith("Check the fats, liquids and water share")
    assert not any(step.startswith("Take it out") for step in verdict.advice)


@pytest.mark.parametrize("day", [28, 70])
def test_a_water_limit_is_neither_kept_nor_missed_where_more_was_lost_than_went_in(day):
    bar = series((0, 120), (day - 7, 97.0), (day, 96.8))
    verdict = assess(batch(bar, day=day, water_share=0.16), WATER_LIMIT)
    assert verdict.state is State.CURING
    assert verdict.advice[0].startswith("Check the fats, liquids and water share")


def test_a_little_more_than_the_water_is_within_what_a_scale_and_fragrance_explain():
    verdict = assess(batch(series((0, 100), (21, 79.5), (28, 79.2)), day=28, water_share=0.2), WATER_LIMIT)
    assert verdict.state is State.READY
    assert verdict.advice[0].startswith("Take it out")
