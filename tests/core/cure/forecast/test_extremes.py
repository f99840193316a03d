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


@pytest.mark.parametrize("water_share", [0.3, 0.5, 0.9, 0.999])
def test_however_wet_a_bar_is_said_to_be_something_of_it_stays(water_share: float) -> None:
    """Of what is recorded sixteen hundredths more may leave, and of what is to stay no more than that."""
    batch = replace(grown("x", (0.0,)), water_share=water_share)
    found = foretell([batch], cold_prior(), RULE, step_g=STEP_G, days=(56.0, 126.0))[0]
    dry = 1 - max(0.0, 1 - (1 - water_share) / np.exp(0.15))
    for ranges in found.weight_g.values():
        for one in ranges:
            assert one.p10 > 0.9 * dry * 100
    assert all(one.p10 >= 0 for one in found.water_left_pct)


@pytest.mark.parametrize("water_share", [0.03, 0.05])
def test_no_less_than_no_water_is_left(water_share: float) -> None:
    batch = replace(grown("x", WEEKS), water_share=water_share)
    left = foretell([batch], cold_prior(), RULE, step_g=STEP_G, days=(56.0,))[0].water_left_pct[0]
    assert left.p10 == 0 <= left.p50 <= left.p90


@pytest.mark.parametrize("min_days", range(7))
def test_a_least_age_below_a_week_is_as_none(min_days: int) -> None:
    """A week's loss is known from the seventh day on: what dries little enough by then is ready then."""
    rule = ForecastRule(min_days=min_days, weekly_loss_limit_pct=20.0)
    assert foretell([grown("a", WEEKS)], cold_prior(), rule, step_g=STEP_G)[0].ready_day.p50 == 7
