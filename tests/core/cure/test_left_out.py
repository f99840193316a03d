"""Weighings that are left out are told in one sentence."""

import pytest

from curehouse.core.cure.hindsight import in_hindsight
from tests.core.cure.build import assess_in_plain_spaces as assess
from tests.core.cure.build import batch, doubtful, losing


def left_out(*bars):
    verdict = assess(batch(*bars, day=42))
    return [reason.text for reason in verdict.reasons if reason.code == "doubtful"]


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ((42,), "Bar A on day 42: left out of the verdict until confirmed or corrected."),
        ((42, 42, 42), "Bars A, B and C on day 42: left out of the verdict until confirmed or corrected."),
        ((42, 35, 42), "Bar B on day 35 and bars A and C on day 42: left out of the verdict until confirmed or corrected."),
    ],
)
def test_all_that_is_left_out_is_one_sentence(days, said):
    assert left_out(*(losing(0.5, until=28) + doubtful((day, 91.0)) for day in days)) == [said]


def test_what_an_older_verdict_said_is_told_in_the_past_too():
    was = "Bar A on day 42: left out until confirmed or corrected."
    assert in_hindsight("doubtful", was, {}) == "Bar A on day 42 was left out: nobody confirmed or corrected it."


def test_once_the_batch_is_gone_several_were_left_out():
    (said,) = left_out(*[losing(0.5, until=28) + doubtful((42, 91.0))] * 2)
    assert in_hindsight("doubtful", said, {}) == (
        "Bars A and B on day 42 were left out of the verdict: nobody confirmed or corrected them."
    )
