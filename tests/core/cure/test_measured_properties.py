"""What holds for every batch, whatever its weighings."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.cure.measured import assess
from curehouse.core.cure.rule import (
    BatchAtMoment,
    CheckOutcome,
    Firmness,
    RuleLimits,
    SampleSeries,
    State,
)
from curehouse.core.cure.series import Weighing

GRAMS_PER_OUNCE = 28.349523125


@st.composite
def batches(draw, *, may_doubt: bool = True) -> BatchAtMoment:
    """Up to four bars weighed at whole days up to the batch's age, some doubtful."""
    age = draw(st.integers(0, 80))
    bars = []
    for label in draw(st.sampled_from(["A", "AB", "ABC", "ABCD"])):
        days = draw(st.lists(st.integers(0, age), max_size=8, unique=True))
        weighings = tuple(
            Weighing(
                float(day),
                draw(st.floats(80, 130)),
                draw(st.booleans()) if may_doubt else False,
            )
            for day in days
        )
        firmness = draw(st.sampled_from([None, *Firmness]))
        bars.append(SampleSeries(label, weighings, firmness))
    return BatchAtMoment(
        whole_days=age,
        age_days=float(age),
        bars=tuple(bars),
        check=draw(st.sampled_from(list(CheckOutcome))),
        water_share=draw(st.one_of(st.none(), st.floats(0.1, 0.35))),
    )


limits = st.builds(
    RuleLimits,
    weekly_loss_limit_pct=st.floats(0.1, 20),
    water_left_limit_pct=st.one_of(st.none(), st.floats(1, 100)),
)


@given(batches(), limits, st.randoms(use_true_random=False))
def test_the_order_of_bars_and_weighings_does_not_matter(batch, limits, random):
    bars = []
    for bar in batch.bars:
        weighings = list(bar.weighings)
        random.shuffle(weighings)
        bars.append(replace(bar, weighings=tuple(weighings)))
    random.shuffle(bars)
    assert assess(replace(batch, bars=tuple(bars)), limits) == assess(batch, limits)


@given(batches(may_doubt=False))
def test_percentages_and_state_are_the_same_in_grams_and_ounces(batch):
    def scaled(bar: SampleSeries) -> SampleSeries:
        return replace(
            bar,
            weighings=tuple(Weighing(w.day, w.weight_g / GRAMS_PER_OUNCE) for w in bar.weighings),
        )

    grams = assess(batch)
    ounces = assess(replace(batch, bars=tuple(scaled(bar) for bar in batch.bars)))
    for name in ("weekly_loss_pct", "total_loss_pct", "water_left_pct", "water_left_of_bar_pct"):
        assert getattr(ounces, name) == pytest.approx(getattr(grams, name), abs=1e-7)
    if grams.weekly_loss_pct is None or abs(grams.weekly_loss_pct - 0.75) > 1e-6:
        assert ounces.state is grams.state


@given(batches(), limits)
def test_ready_is_old_enough_hardly_losing_and_checked(batch, limits):
    verdict = assess(batch, limits)
    if State.READY in (verdict.state, verdict.state_without_doubtful):
        assert batch.check is CheckOutcome.PASSED
        assert batch.whole_days >= limits.min_days
        assert verdict.weekly_loss_pct <= limits.weekly_loss_limit_pct + 1e-9
    if verdict.state is State.CHECK_DUE:
        assert batch.check is not CheckOutcome.PASSED


@given(batches(), limits)
def test_a_loss_above_the_limit_is_never_dry_enough(batch, limits):
    verdict = assess(batch, limits)
    weekly = verdict.weekly_loss_pct
    if weekly is None or weekly > limits.weekly_loss_limit_pct + 1e-6:
        assert not verdict.dry_enough
        assert verdict.state not in (State.READY, State.CHECK_DUE)


def held_by_a_gain(verdict) -> bool:
    """Dry enough by the rule, on a gain of over 2 % in a week."""
    by_rule = verdict.state_without_doubtful in (State.READY, State.CHECK_DUE)
    return by_rule and verdict.weekly_loss_pct < -2.0 - 1e-9


@given(batches(may_doubt=False), limits)
def test_nothing_calls_for_another_look_where_nothing_is_doubtful_and_no_bar_gains(batch, limits):
    verdict = assess(batch, limits)
    assert (verdict.state is State.LOOK_AGAIN) is held_by_a_gain(verdict)
    assert verdict.state_without_doubtful is verdict.state_with_doubtful
    assert held_by_a_gain(verdict) or verdict.state is verdict.state_without_doubtful


@given(batches(), limits)
def test_figures_are_those_without_the_doubtful_weighings(batch, limits):
    good_bars = tuple(replace(bar, weighings=tuple(w for w in bar.weighings if not w.doubtful)) for bar in batch.bars)
    newest = batch.newest_weighing_day
    good_newest = replace(batch, bars=good_bars).newest_weighing_day
    if newest == good_newest:
        with_marks = assess(batch, limits)
        without = assess(replace(batch, bars=good_bars), limits)
        assert with_marks.bars == without.bars
        assert with_marks.weekly_loss_pct == without.weekly_loss_pct
        assert with_marks.state_without_doubtful is without.state_without_doubtful


@given(batches(), limits)
def test_look_again_means_the_two_states_differ_and_nothing_else_does(batch, limits):
    verdict = assess(batch, limits)
    differ = verdict.state_with_doubtful is not verdict.state_without_doubtful
    assert (verdict.state is State.LOOK_AGAIN) is (differ or held_by_a_gain(verdict))


@given(batches(may_doubt=False), st.floats(0.1, 20), st.floats(0, 5))
def test_a_looser_limit_never_undoes_dry_enough(batch, limit, looser):
    strict = assess(batch, RuleLimits(weekly_loss_limit_pct=limit))
    loose = assess(batch, RuleLimits(weekly_loss_limit_pct=limit + looser))
    assert loose.dry_enough or not strict.dry_enough


@given(batches(), limits)
def test_every_verdict_says_why_and_what_to_do(batch, limits):
    verdict = assess(batch, limits)
    assert verdict.reasons
    assert verdict.advice
    assert all(reason.text.endswith(".") for reason in verdict.reasons)
    assert all(step.endswith(".") for step in verdict.advice)
    assert len(set(verdict.advice)) == len(verdict.advice)
