"""A formula's expected curve against the forecast's own prior, and against curves that are simply drawn from it."""

from dataclasses import replace

import numpy as np
import pytest

from curehouse.core.cure.forecast.prior import COVARIATES, CURVE, Prior, cold_prior
from curehouse.core.cure.formula_curve import expected_curve

DAYS = (0.0, 7.0, 21.0, 42.0, 84.0)


def taught() -> Prior:
    """Return a prior that knows two formulas, its figures made up, its covariance any that is one."""
    width = COVARIATES + 2
    chance = np.random.default_rng(5)
    coefficients = np.zeros((CURVE, width))
    coefficients[:, 0], coefficients[:, 1] = (-0.4, 3.0, -0.25), (1.5, -2.0, 0.0)
    coefficients[:, COVARIATES:] = chance.normal(0, 0.1, (CURVE, 2))
    root = chance.normal(0, 0.02, (CURVE * width, CURVE * width))
    return replace(
        cold_prior(),
        formulas=("Castile", "Goat & oat"),
        coefficients=tuple(coefficients.ravel().tolist()),
        coefficient_cov=tuple((root @ root.T).ravel().tolist()),
        batch_cov=(0.006, 0.002, 0.0, 0.002, 0.05, 0.001, 0.0, 0.001, 0.008),
    )


def drawn(prior: Prior, formula: str, water_share: float) -> np.ndarray:
    """Return the share of the weight that is left, by curve drawn and day."""
    design = np.zeros((1, prior.width()))
    design[0, :2] = 1.0, water_share - 0.2
    known = formula in prior.formulas
    if known:
        design[0, COVARIATES + prior.formulas.index(formula)] = 1.0
    mean, cov = prior.expected(design, np.array([known]))
    curves = np.random.default_rng(7).multivariate_normal(mean[0], cov[0], 40_000)
    share, tau, power = (np.exp(curves[:, i, None]) for i in range(CURVE))
    return 1 - water_share * share * -np.expm1(-((np.array(DAYS) / tau) ** power))


@pytest.mark.parametrize("formula", ["Castile", "Goat & oat", "Nobody knows it"])
@pytest.mark.parametrize("prior", [cold_prior(), taught()], ids=["cold", "taught"])
def test_it_lies_where_curves_drawn_from_the_prior_do(prior: Prior, formula: str) -> None:
    points = expected_curve(prior.as_plain(), formula, water_share=0.22, days=DAYS)
    low, middle, high = 100 * np.quantile(drawn(prior, formula, 0.22), (0.1, 0.5, 0.9), axis=0)
    for at, point in enumerate(points):
        assert point.middle_pct == pytest.approx(middle[at], abs=0.12)
        assert point.low_pct == pytest.approx(low[at], abs=0.12)
        assert point.high_pct == pytest.approx(high[at], abs=0.12)


def test_it_begins_at_the_whole_weight_and_falls() -> None:
    points = expected_curve(cold_prior().as_plain(), "Castile", water_share=0.2, days=DAYS)
    assert (points[0].low_pct, points[0].middle_pct, points[0].high_pct) == (100.0, 100.0, 100.0)
    assert [point.middle_pct for point in points] == sorted((point.middle_pct for point in points), reverse=True)
    assert all(point.low_pct < point.middle_pct < point.high_pct <= 100 for point in points[1:])


@pytest.mark.parametrize("changes", [{"water_share": 0.0}, {"water_share": 1.0}, {"days": (-1.0,)}])
def test_what_cannot_be_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="must lie between|counts from the cut"):
        expected_curve(cold_prior().as_plain(), "Castile", **{"water_share": 0.2, "days": (1.0,), **changes})
