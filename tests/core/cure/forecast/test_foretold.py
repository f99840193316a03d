"""What a forecast must hold to, whatever the batch."""

import json
from dataclasses import asdict, replace
from datetime import date

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.draws import MOST_OF_WATER, drawn
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.packing import packed
from curehouse.core.cure.forecast.prior import Prior, cold_prior

WATER, STEP_G = 0.2, 0.1


def grown(
    key: str, days: tuple[float, ...], *, share: float = 0.68, tau: float = 19.0, seed: int = 1, bars: int = 4
) -> WeighedBatch:
    rng = np.random.default_rng(seed)
    out = []
    for j in range(bars):
        start = 110 + 4 * rng.standard_normal()
        lost = WATER * share * -np.expm1(-((np.array(days) / tau) ** 0.74))
        weights = np.round((start * (1 - lost) + 0.05 * rng.standard_normal(len(days))) / STEP_G) * STEP_G
        out.append(BarReadings(f"b{j}", days, tuple(weights.tolist())))
    return WeighedBatch(key, "plain", WATER, tuple(out), date(2026, 3, 1).toordinal())


def one(batch: WeighedBatch, prior: Prior | None = None, step_g: float = STEP_G) -> BatchForecast:
    return foretell([batch], prior or cold_prior(), ForecastRule(), step_g=step_g, days=(56.0,))[0]


def scaled(batch: WeighedBatch, by: float) -> WeighedBatch:
    return replace(batch, bars=tuple(replace(bar, weights_g=tuple(w * by for w in bar.weights_g)) for bar in batch.bars))


def test_the_order_of_bars_changes_nothing() -> None:
    batch = grown("a", (0, 7, 14))
    assert one(batch) == one(replace(batch, bars=batch.bars[::-1]))


def test_the_unit_of_mass_changes_nothing_but_the_unit() -> None:
    batch = grown("a", (0, 7, 14))
    grams, ounces = one(batch), one(scaled(batch, 1 / 28.349523125), step_g=STEP_G / 28.349523125)
    assert ounces.ready_day.p50 == pytest.approx(grams.ready_day.p50, abs=1)
    assert ounces.weight_g["b1"][0].p50 * 28.349523125 == pytest.approx(grams.weight_g["b1"][0].p50, rel=1e-6)


def test_other_batches_beside_it_change_nothing() -> None:
    batch, other = grown("a", (0, 7, 14)), grown("b", (0, 7, 14), seed=2, tau=40)
    together = foretell([other, batch], cold_prior(), ForecastRule(), step_g=STEP_G, days=(56.0,))[1]
    assert together.weight_g["b0"][0].p50 == pytest.approx(one(batch).weight_g["b0"][0].p50, rel=1e-9)


def test_more_weighings_narrow_the_ranges_on_average() -> None:
    widths = []
    for weeks in (1, 2, 4, 6):
        found = [one(grown("a", tuple(7.0 * i for i in range(weeks + 1)), seed=seed)) for seed in range(6)]
        widths.append(np.mean([f.weight_g["b0"][0].p90 - f.weight_g["b0"][0].p10 for f in found]))
    assert widths == sorted(widths, reverse=True)


def test_no_draw_loses_more_water_than_went_in() -> None:
    batch = grown("a", (0, 7, 14), share=1.3, tau=8)
    for group, _ in packed([batch], cold_prior()):
        found = drawn(group, cold_prior(), np.array([28.0, 56.0, 126.0]), step_g=STEP_G, draws=300)
        lost = 1 - found.weight_g / found.start_g[..., None]
        assert lost.max() <= WATER * MOST_OF_WATER + 1e-12


@pytest.mark.parametrize("slip", [0.1, 10.0])
def test_a_decimal_slip_moves_no_other_bar(slip: float) -> None:
    batch = grown("a", (0, 7, 14, 21))
    first = batch.bars[0]
    wrong = replace(first, weights_g=(*first.weights_g[:2], first.weights_g[2] * slip, first.weights_g[3]))
    spoiled = one(replace(batch, bars=(wrong, *batch.bars[1:])))
    for label, (right,) in one(batch).weight_g.items():
        assert spoiled.weight_g[label][0].p50 == pytest.approx(right.p50, abs=0.5)


@pytest.mark.parametrize("days", [(2,), (3, 10), (0, 5, 16, 41), (0, 7, 14, 21, 28, 35, 42, 49, 56, 63, 70)])
@pytest.mark.parametrize("bars", [1, 2, 6])
def test_any_days_and_any_number_of_bars_will_do(days: tuple[float, ...], bars: int) -> None:
    found = one(grown("a", tuple(map(float, days)), bars=bars))
    assert 28 <= found.ready_day.p10 <= found.ready_day.p50 <= found.ready_day.p90 <= 126
    assert 80 < found.weight_g["b0"][0].p50 < 115


def test_a_workshop_that_dries_slowly_is_learnt_and_a_prior_can_be_kept() -> None:
    weeks = tuple(7.0 * i for i in range(10))
    prior = learn([grown(f"h{i}", weeks, tau=45, seed=i) for i in range(12)], step_g=STEP_G)
    whole = grown("a", (0.0, 1.0, 56.0), tau=45, seed=99)
    start = replace(whole, bars=tuple(replace(bar, days=bar.days[:2], weights_g=bar.weights_g[:2]) for bar in whole.bars))
    learnt, cold = one(start, prior), one(start)
    assert learnt.ready_day.p90 - learnt.ready_day.p10 < cold.ready_day.p90 - cold.ready_day.p10
    for bar in whole.bars:
        at_last = bar.weights_g[-1]
        assert abs(learnt.weight_g[bar.label][0].p50 - at_last) < abs(cold.weight_g[bar.label][0].p50 - at_last)
        assert learnt.weight_g[bar.label][0].p10 <= at_last <= learnt.weight_g[bar.label][0].p90
    assert Prior.from_plain(prior.as_plain()) == prior


def test_what_is_kept_of_a_forecast_is_all_of_it() -> None:
    found = foretell([grown("a", (0, 7, 14))], cold_prior(), ForecastRule(), step_g=STEP_G, days=(28.0, 56.0))[0]
    assert json.dumps(found.as_plain()) == json.dumps(asdict(found))
