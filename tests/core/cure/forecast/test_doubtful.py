"""Weighings that do not fit the batch's own forecast, and what each is taken for."""

from dataclasses import replace

import pytest

from curehouse.core.cure.doubt import DoubtKind
from curehouse.core.cure.forecast.batches import WeighedBatch
from curehouse.core.cure.forecast.doubtful import DoubtfulWeighing, doubtful
from curehouse.core.cure.forecast.prior import cold_prior
from tests.core.cure.forecast.test_foretold import STEP_G, grown

WEEKS = (0.0, 7.0, 14.0, 21.0)


def doubts(batch: WeighedBatch) -> tuple[DoubtfulWeighing, ...]:
    return doubtful([batch], cold_prior(), step_g=STEP_G)[0]


def changed(batch: WeighedBatch, place: int, weights: dict[int, float]) -> WeighedBatch:
    """Return a batch with other weights of some bars in one session."""
    bars = tuple(
        replace(bar, weights_g=(*bar.weights_g[:place], weights.get(j, bar.weights_g[place]), *bar.weights_g[place + 1 :]))
        for j, bar in enumerate(batch.bars)
    )
    return replace(batch, bars=bars)


@pytest.mark.parametrize("seed", range(5))
def test_weighings_that_fit_are_not_doubted(seed: int) -> None:
    assert doubts(grown("a", WEEKS, seed=seed)) == ()


def test_a_humid_spell_in_which_all_bars_gain_a_little_is_not_doubted() -> None:
    batch = grown("a", (*WEEKS, 28.0, 35.0, 42.0))
    damp = changed(batch, 6, {j: round(bar.weights_g[5] + 0.3, 1) for j, bar in enumerate(batch.bars)})
    assert doubts(damp) == ()


@pytest.mark.parametrize("place", [1, 2, 3])
@pytest.mark.parametrize("slip", [0.1, 10.0])
def test_a_decimal_slip_is_recognised_and_undone(place: int, slip: float) -> None:
    batch = grown("a", WEEKS)
    right = batch.bars[1].weights_g[place]
    (said,) = doubts(changed(batch, place, {1: right * slip}))
    assert (said.bar, said.day, said.doubt.kind) == ("b1", WEEKS[place], DoubtKind.DECIMAL_SLIP)
    assert said.doubt.guess_g == pytest.approx(right, abs=1e-9)


def test_swapped_digits_are_recognised_and_undone() -> None:
    batch = grown("a", WEEKS)
    right = batch.bars[0].weights_g[3]
    text = f"{right:.1f}"
    swapped = float(text[:-4] + text[-3] + text[-4] + text[-2:])
    assert abs(swapped - right) > 5
    (said,) = doubts(changed(batch, 3, {0: swapped}))
    assert said.doubt.kind is DoubtKind.SWAPPED_DIGITS
    assert said.doubt.guess_g == pytest.approx(right, abs=1e-9)


def test_two_bars_taken_for_each_other_are_both_named() -> None:
    batch = grown("a", WEEKS)
    one, other = (batch.bars[j].weights_g[3] for j in (2, 3))
    assert abs(one - other) > 2
    said = doubts(changed(batch, 3, {2: other, 3: one}))
    assert [(each.bar, each.doubt.neighbour) for each in said] == [("b2", "b3"), ("b3", "b2")]


def test_a_whole_session_with_a_tray_on_the_scale_is_one_cause() -> None:
    batch = grown("a", WEEKS)
    said = doubts(changed(batch, 2, {j: round(bar.weights_g[2] + 11.0, 1) for j, bar in enumerate(batch.bars)}))
    assert [(each.bar, each.day) for each in said] == [(f"b{j}", 14.0) for j in range(4)]
    assert all(each.doubt.kind is DoubtKind.TARE and len(each.doubt.alike) == 3 for each in said)
    for each, bar in zip(said, batch.bars, strict=True):
        assert each.doubt.guess_g == pytest.approx(bar.weights_g[2], abs=1.0)


def test_last_weeks_weight_once_more_is_recognised() -> None:
    batch = grown("a", WEEKS, tau=12)
    (said,) = doubts(changed(batch, 1, {2: batch.bars[2].weights_g[0]}))
    assert (said.bar, said.doubt.kind) == ("b2", DoubtKind.REPEATED)


def test_of_two_weighings_that_contradict_each_other_one_is_doubted() -> None:
    batch = grown("a", WEEKS[:2])
    right = batch.bars[1].weights_g[0]
    (said,) = doubts(changed(batch, 0, {1: round(right + 30.0, 1)}))
    assert (said.bar, said.day) == ("b1", 0.0)
