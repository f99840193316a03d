"""What a measured batch lacks to be dry enough, read off the reasons of its verdict."""

from dataclasses import asdict
from typing import Any

import pytest

from curehouse.core.cure.lacking import lacking
from curehouse.core.cure.measured import assess
from curehouse.core.cure.rule import RuleLimits, State
from curehouse.core.cure.series import Weighing
from tests.core.cure.build import batch, doubtful, losing, series

DRY = series((0, 130.0), (21, 121.0), (28, 120.4), (35, 120.1))


def told(bar: tuple[Weighing, ...], *, day: int, **limits: Any) -> tuple[State, str]:
    verdict = assess(batch(bar, day=day, water_share=0.3), RuleLimits(**limits))
    return verdict.state, lacking([asdict(one) for one in verdict.reasons]).replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("bar", "day", "limits", "says"),
    [
        (losing(1.7, until=35), 35, {}, "Losing 1.7 % a week; dry enough at 0.75 % or less."),
        (DRY, 35, {"min_days": 40}, "Day 35; old enough from day 40."),
        (series((35, 120.1)), 35, {}, "No weekly loss yet: the first weighing must be five days back or more."),
        (DRY, 50, {}, "Not weighed since day 35, 15 days ago."),
        (DRY, 35, {"water_left_limit_pct": 1.0}, "% of its water is still in it; dry enough at 1 % or less."),
        (DRY[1:], 35, {"water_left_limit_pct": 1.0}, "how much is left is not known: no bar was weighed at the cut."),
        ((*DRY[:2], *series((28, 120.0), (35, 124.0))), 35, {}, "more than damp air brings"),
        (
            tuple(Weighing(one.day, round(one.weight_g / 5) * 5.0, step_g=5.0) for one in losing(2.0, until=35)), 35, {},
            "The scale is too coarse",
        ),
    ],
)  # fmt: skip
def test_it_is_the_reason_that_keeps_it_from_being_dry(
    bar: tuple[Weighing, ...], day: int, limits: dict[str, Any], says: str
) -> None:
    state, said = told(bar, day=day, **limits)
    assert state in (State.CURING, State.NOT_WEIGHED, State.LOOK_AGAIN)
    assert says in said


def test_a_batch_that_is_dry_lacks_nothing() -> None:
    assert told(DRY, day=35) == (State.READY, "")


def test_it_is_the_doubt_where_that_decides() -> None:
    state, said = told((*DRY[:3], *doubtful((35, 112.0))), day=35)
    assert state is State.LOOK_AGAIN
    assert said.startswith("Without the doubtful weighing this batch is")
