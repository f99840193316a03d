"""What nobody means but somebody types: one batch of it must not spoil the forecasts of a house."""

from dataclasses import replace

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import ForecastRule
from curehouse.core.cure.forecast.foretold import foretell
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.prior import cold_prior
from tests.core.cure.forecast.test_foretold import STEP_G, grown

RULE = ForecastRule()
WEEKS = tuple(7.0 * week for week in range(9))


@pytest.mark.parametrize("water_share", [0.0001, 0.5, 0.8, 0.9, 0.99])
@pytest.mark.filterwarnings("error")
def test_a_batch_whose_water_was_typed_wrong_spoils_no_other_batch(water_share: float) -> None:
    house = [grown(f"g{seed}", WEEKS, seed=seed) for seed in range(8)]
    asked = grown("a", WEEKS[:3])
    usual, taught = (
        learn(batches, step_g=STEP_G) for batches in (house, [*house, replace(house[0], key="x", water_share=water_share)])
    )
    before, after = (foretell([asked], prior, RULE, step_g=STEP_G, days=(56.0,))[0] for prior in (usual, taught))
    assert np.isfinite(taught.coefficients).all()
    assert after.ready_day.p50 == pytest.approx(before.ready_day.p50, abs=3)
    assert after.weight_g["b0"][0].p50 == pytest.approx(before.weight_g["b0"][0].p50, abs=0.5)


@pytest.mark.parametrize("water_share", [0.5, 0.8, 0.9, 0.99])
@pytest.mark.filterwarnings("error")
def test_of_a_batch_whose_water_was_typed_wrong_its_own_weighings_tell(water_share: float) -> None:
    batch = replace(grown("x", WEEKS), water_share=water_share)
    found = foretell([batch], cold_prior(), RULE, step_g=STEP_G, days=(56.0,))[0]
    for bar in batch.bars:
        assert found.weight_g[bar.label][0].p50 == pytest.approx(bar.weights_g[-1], abs=1.5)


def test_a_rule_looks_ahead_a_week_at_least() -> None:
    with pytest.raises(ValueError, match="7 or more"):
        ForecastRule(min_days=0, latest_day=3, horizon_days=6)
    soonest = ForecastRule(min_days=0, latest_day=3, horizon_days=7)
    assert foretell([grown("a", WEEKS)], cold_prior(), soonest, step_g=STEP_G)[0].ready_day.p50 == 7.0
