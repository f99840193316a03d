"""A scale whose step hides the weekly loss holds the verdict; one that only blurs it says so."""

from dataclasses import replace

import pytest

from curehouse.core.cure.measured import assess
from curehouse.core.cure.rule import RuleLimits, State
from curehouse.core.cure.series import Weighing, loss_over_last_seven_days

from .build import batch, series


def read_to(step_g: float, *pairs: tuple[float, float]) -> tuple[Weighing, ...]:
    return tuple(replace(weighing, step_g=step_g) for weighing in series(*pairs))


def codes(verdict) -> list[str]:
    return [reason.code for reason in verdict.reasons]


def text_of(verdict, code: str) -> str:
    return next(reason.text for reason in verdict.reasons if reason.code == code).replace("\u00a0", " ")


# Dry by what it shows: nothing lost in the last week.
def shown_dry(step_g: float, *, until: int = 35, bar_g: float = 120.0) -> tuple[Weighing, ...]:
    return read_to(step_g, (0, bar_g + 14), (until - 14, bar_g + 2), (until - 7, bar_g), (until, bar_g))


@pytest.mark.parametrize(
    ("step_g", "bar_g", "limit_pct", "state"),
    [
        (0.1, 120.0, 0.75, State.READY),
        (1.0, 120.0, 0.75, State.READY),  # 0.417 %
        (2.0, 120.0, 0.75, State.CURING),  # 0.833 %
        (1.8, 120.0, 0.75, State.READY),  # 0.75 % to the dot: not over the limit
        (2.0, 134.0, 0.75, State.READY),  # 0.746 %
        (1.0, 66.0, 0.75, State.CURING),  # 0.758 %
        (2.0, 120.0, 1.0, State.READY),
        (1.0, 120.0, 0.4, State.CURING),
    ],
)
def test_dry_enough_is_held_only_where_half_a_step_is_over_the_limit(step_g, bar_g, limit_pct, state) -> None:
    verdict = assess(batch(shown_dry(step_g, bar_g=bar_g), day=35), RuleLimits(weekly_loss_limit_pct=limit_pct))
    assert verdict.state is state
    assert ("scale_too_coarse" in codes(verdict)) is (state is State.CURING)
    assert verdict.dry_enough is (state is State.READY)


def test_a_held_verdict_says_why_first_and_what_to_do() -> None:
    verdict = assess(batch(shown_dry(2.0), day=35))
    assert codes(verdict)[0] == "scale_too_coarse"
    assert text_of(verdict, "scale_too_coarse") == (
        "The scale is too coarse to show whether it is dry enough: half of its step is 0.83 % of a bar, and the limit is "
        "0.75 % a week."
    )
    assert text_of(verdict, "weekly_loss") == "On this scale it lost nothing this week."
    assert "finer scale" in verdict.advice[0]
    assert "1.5" in verdict.advice[0]


def test_a_fine_scale_says_nothing_and_a_middling_one_how_far_its_figure_holds() -> None:
    assert "scale_step" not in codes(assess(batch(shown_dry(0.1), day=35)))
    verdict = assess(batch(shown_dry(1.0), day=35))
    assert text_of(verdict, "scale_step") == "The scale shows the weekly loss to ± 0.42 %: half of its step."
    figure = next(reason for reason in verdict.reasons if reason.code == "scale_step").figures[0]
    assert (figure.name, figure.unit) == ("half_step", "%")
    assert figure.value == pytest.approx(100 * 0.5 / 120)


def test_nothing_is_said_of_a_scale_that_is_not_known_or_where_there_is_no_weekly_loss() -> None:
    assert not {"scale_step", "scale_too_coarse"} & set(codes(assess(batch(series((21, 120), (28, 120)), day=28))))
    assert not {"scale_step", "scale_too_coarse"} & set(codes(assess(batch(read_to(2.0, (0, 130)), day=1))))


@pytest.mark.parametrize(("lost_g", "state"), [(1.5, State.CURING), (4.0, State.TOO_SOFT)])
def test_past_its_latest_day_only_a_loss_that_the_step_cannot_explain_is_too_soft(lost_g, state) -> None:
    # 1.5 g of 120 are 1.25 %, less than the limit and half a step together (0.75 + 0.83); 4 g are 3.3 %.
    bar = read_to(2.0, (0, 150), (46, 120 + 2 * lost_g), (53, 120 + lost_g), (60, 120))
    verdict = assess(batch(bar, day=60))
    assert verdict.state is state
    assert ("scale_too_coarse" in codes(verdict)) is (state is State.CURING)


def test_a_young_batch_on_a_coarse_scale_is_told_early() -> None:
    verdict = assess(batch(shown_dry(2.0, until=21), day=21))
    assert "scale_too_coarse" in codes(verdict)


def test_a_loss_plain_on_a_coarse_scale_is_just_a_loss() -> None:
    verdict = assess(batch(read_to(2.0, (0, 140), (7, 126), (14, 120)), day=14))
    assert codes(verdict)[0] == "weekly_loss"
    assert "scale_step" in codes(verdict)


def test_the_coarsest_weighing_behind_a_loss_counts() -> None:
    bar = (*read_to(2.0, (0, 134), (28, 120)), *read_to(0.1, (35, 120.0)))
    assert loss_over_last_seven_days(bar).half_step_pct == pytest.approx(100 / 120)
    assert assess(batch(bar, day=35)).state is State.CURING
    two_fine_ones = (*bar, *read_to(0.1, (42, 119.7)))
    assert loss_over_last_seven_days(two_fine_ones).half_step_pct == pytest.approx(5 / 119.7)
    assert assess(batch(two_fine_ones, day=42)).state is State.READY


def test_of_several_bars_the_middle_one_decides() -> None:
    coarse, fine = shown_dry(2.0), shown_dry(0.1)
    assert assess(batch(coarse, fine, fine, day=35)).state is State.READY
    assert assess(batch(coarse, coarse, fine, day=35)).state is State.CURING


def test_two_weighings_of_one_moment_are_as_coarse_as_the_coarser() -> None:
    bar = (*read_to(0.1, (28, 120.0), (35, 120.0)), *read_to(2.0, (35, 120.0)))
    assert loss_over_last_seven_days(bar).half_step_pct == pytest.approx(100 / 120)


@pytest.mark.parametrize("step_g", [0.0, -1.0, float("nan"), float("inf")])
def test_a_step_is_a_finite_number_above_zero(step_g) -> None:
    with pytest.raises(ValueError, match="step_g"):
        Weighing(0, 120.0, step_g=step_g)


def test_a_batch_too_wet_though_its_loss_is_hidden_asks_for_a_finer_scale_besides() -> None:
    verdict = assess(batch(shown_dry(2.0, until=60), day=60, water_share=0.3), RuleLimits(water_left_limit_pct=20))
    assert verdict.state is State.TOO_SOFT
    assert any("finer scale" in step for step in verdict.advice)
