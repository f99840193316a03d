"""A gain that damp air doesn't bring holds the verdict; a smaller one stays a humid week."""

import pytest

from curehouse.core.cure.hindsight import in_hindsight
from curehouse.core.cure.rule import CheckOutcome, State
from tests.core.cure.build import assess_in_plain_spaces as assess
from tests.core.cure.build import batch, losing, series

BENCH_HUMID_SPELL_PCT = 1.18


def gaining(percent, *, until=35):
    return series((0, 120), (until - 14, 100.5), (until - 7, 100.0), (until, 100.0 / (1 - percent / 100)))


@pytest.mark.parametrize("check", CheckOutcome)
def test_a_gain_beyond_damp_air_is_to_be_looked_at_again(check):
    verdict = assess(batch(gaining(4.5), gaining(4.5), day=35, check=check))
    assert verdict.state is State.LOOK_AGAIN
    assert not verdict.dry_enough
    assert verdict.reasons[0].text == (
        "Gained 4.5 % this week: more than damp air brings; wet, another bar, or something on the scale."
    )
    assert "Weigh the sample bars again" in verdict.advice[-1]
    assert (verdict.advice[0] == "Test again after a week or more, rework or destroy.") is (check is CheckOutcome.FAILED)


@pytest.mark.parametrize("percent", [0.3, BENCH_HUMID_SPELL_PCT, 1.99])
def test_a_gain_of_a_humid_week_holds_nothing(percent):
    verdict = assess(batch(gaining(percent), day=35))
    assert verdict.state is State.READY
    assert "as bars do in damp air" in verdict.reasons[0].text


def test_one_bar_that_gained_among_three_holds_nothing():
    verdict = assess(batch(gaining(4.5), losing(0.5, until=35), losing(0.5, until=35), day=35))
    assert verdict.state is State.READY


def test_a_batch_too_young_stays_curing_but_is_to_be_weighed_again():
    verdict = assess(batch(gaining(4.5, until=21), day=21))
    assert verdict.state is State.CURING
    assert "more than damp air brings" in verdict.reasons[0].text
    assert "Weigh the sample bars again" in verdict.advice[0]


def test_a_gain_held_is_retold_once_the_batch_is_gone():
    reason = assess(batch(gaining(4.5), day=35)).reasons[0]
    figures = {figure.name: figure.value for figure in reason.figures}
    said = in_hindsight(reason.code, reason.text, figures).replace("\u00a0", " ")
    assert said == "It gained 4.5 % in its last week; 0.75 % or less was dry enough."
