"""When a batch that nobody has weighed is dry enough: by a second hand that draws for itself, and by its own properties."""

from dataclasses import replace

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import ForecastRule
from curehouse.core.cure.forecast.damp import prior_paths
from curehouse.core.cure.forecast.not_weighed import expected_days
from curehouse.core.cure.forecast.prior import COVARIATES, CURVE, Prior, cold_prior
from tests.core.cure.test_formula_curve import taught

RULE = ForecastRule()
SPRING, AUTUMN = 739_700, 739_883


def drawn_days(prior: Prior, formula: str, water_share: float, rule: ForecastRule) -> np.ndarray:
    """Return the first half weeks, in days, at which curves drawn one by one keep to the rule by three bars' weights."""
    design = np.zeros((1, prior.width()))
    design[0, :2] = 1.0, water_share - 0.2
    known = formula in prior.formulas
    if known:
        design[0, COVARIATES + prior.formulas.index(formula)] = 1.0
    mean, cov = prior.expected(design, np.array([known]))
    chance = np.random.default_rng(7)
    count, days = 6000, np.arange(rule.min_days - 7, rule.horizon_days, 3.5)
    wide = np.where(chance.random(count) < prior.odd_share, prior.odd_scale, 1.0)[:, None]
    curves = mean[0] + wide * chance.multivariate_normal(np.zeros(CURVE), cov[0], count)
    paths = prior.room_sd * prior_paths(count, prior.mix)[chance.permutation(count)]
    damp = (paths[:, np.floor(days).astype(int)] + paths[:, np.ceil(days).astype(int)]) / 2
    bars, most = [], water_share * np.exp(0.15)
    for _ in range(3):
        share = np.exp(curves[:, 0] + prior.bar_sd[0] * chance.standard_normal(count))[:, None]
        tau = np.exp(curves[:, 1] + prior.bar_sd[1] * chance.standard_normal(count))[:, None]
        lost = np.minimum(water_share * share, most) * -np.expm1(-((days / tau) ** np.exp(curves[:, 2:])))
        bars.append(np.maximum(1 - lost - damp, 1 - most))
    weight = np.array(bars)
    over = np.median(100 * (weight[:, :, :-2] / weight[:, :, 2:] - 1), axis=0) - rule.weekly_loss_limit_pct
    if rule.water_left_limit_pct is not None:
        left = 100 * (1 - (1 - np.median(weight, axis=0)) / water_share)
        over = np.maximum(over, (left - rule.water_left_limit_pct)[:, 2:])
    dry = over <= 0
    return np.where(dry.any(axis=1), days[2:][dry.argmax(axis=1)], rule.horizon_days)


@pytest.mark.parametrize("formula", ["Castile", "Nobody knows it"])
@pytest.mark.parametrize("prior", [cold_prior(), taught()], ids=["cold", "taught"])
@pytest.mark.parametrize("limit_pct", [None, 40.0])
def test_so_many_are_dry_by_a_day_as_of_curves_drawn_one_by_one(prior: Prior, formula: str, limit_pct: float | None) -> None:
    rule = replace(RULE, water_left_limit_pct=limit_pct)
    found = expected_days(prior.as_plain(), formula, water_share=0.22, cut_day=None, rule=rule)
    drawn = drawn_days(prior, formula, 0.22, rule)
    assert found.share_by(27) == 0
    for day in (28, 35, 42, 49, 56, 91):
        assert found.share_by(day) == pytest.approx((drawn <= day).mean(), abs=0.025)


def test_the_wetter_the_stricter_and_the_older_the_later() -> None:
    plain = taught().as_plain()

    def share(water: float = 0.22, **changes: float) -> float:
        rule = replace(RULE, **changes)
        return expected_days(plain, "Castile", water_share=water, cut_day=SPRING, rule=rule).share_by(40)

    wetter = [share(water) for water in (0.16, 0.22, 0.3)]
    assert wetter == sorted(wetter, reverse=True)
    assert wetter[0] > wetter[-1]
    stricter = [share(weekly_loss_limit_pct=limit) for limit in (1.2, 0.75, 0.4)]
    assert stricter == sorted(stricter, reverse=True)
    assert stricter[0] > stricter[-1]
    assert share(min_days=41) == 0 < share(min_days=28)


def test_it_is_the_same_at_each_call_and_hears_of_the_season() -> None:
    swing = np.array(taught().coefficients).reshape(CURVE, -1)
    swing[1, 2] = 0.3
    plain = replace(taught(), coefficients=tuple(swing.ravel().tolist())).as_plain()
    days = [expected_days(plain, "Castile", water_share=0.22, cut_day=day, rule=RULE) for day in (SPRING, SPRING, AUTUMN)]
    assert days[0] == days[1] != days[2]


def test_a_water_share_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="water_share"):
        expected_days(cold_prior().as_plain(), "Castile", water_share=1.2, cut_day=None, rule=RULE)
