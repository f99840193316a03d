"""What is expected, against point forecasts of the same days by statsforecast (Croston, SBA, TSB, exponential smoothing)."""

import numpy as np
import pytest
from statsforecast.models import TSB, CrostonClassic, CrostonSBA, SimpleExponentialSmoothing

from curehouse.core.stock.reorder.things import Use, Used
from curehouse.core.stock.reorder.unplanned import HALF_LIFE_DAYS, PRIOR_USES_KNOWN_LONG, Season, learn_rate
from tests.core.stock.reorder.replayed import WEEKS_DAYS, replay
from tests.core.stock.reorder.test_stated import KNOWN_DAYS, LAST_DAY, histories

KEPT = 0.5 ** (1 / HALF_LIFE_DAYS)
EVERY_DAYS = 49


def days_of(one: Used, until: int, known: int) -> np.ndarray:
    """Return what was used on each of the *known* days up to *until* (0: the last)."""
    found = np.zeros(known)
    for use in one.uses:
        if use.day <= until:
            found[use.day - until + known - 1] += use.quantity
    return found


@pytest.mark.parametrize("seed", range(4))
def test_how_often_something_is_used_is_its_days_smoothed_exponentially_from_the_shop_s_rate_on(seed: int) -> None:
    """Exactly so for a shop whose rate is worth, by then, as much as is taken for known of it beforehand."""
    dice = np.random.default_rng(seed)
    days = np.flatnonzero(dice.random(KNOWN_DAYS) < 0.08)
    one = Used("olive", [Use(-int(day), 1.0) for day in days], KNOWN_DAYS)
    shop = PRIOR_USES_KNOWN_LONG * (1 - KEPT) / KEPT**KNOWN_DAYS
    smoothed = SimpleExponentialSmoothing(alpha=1 - KEPT).forecast(y=np.concatenate([[shop], days_of(one, 0, KNOWN_DAYS)]), h=1)
    ours = learn_rate(one, Season(np.ones(12), 0.0, 0, 1), shop).mean()
    assert ours == pytest.approx(float(smoothed["mean"][0]), rel=1e-9)


def test_what_is_expected_of_three_weeks_misses_by_no_more_than_usual_forecasts_do() -> None:
    """In shares of what a material uses in three weeks in the mean; over three made-up histories of eight materials."""
    models = {"croston": CrostonClassic(), "sba": CrostonSBA(), "tsb": TSB(alpha_d=0.1, alpha_p=0.1)}
    missed: dict[str, list[float]] = {name: [] for name in ("ours", *models)}
    for history in histories().values():
        of = {one.name: one for one in history}
        usual = {name: sum(use.quantity for use in one.uses) / KNOWN_DAYS * WEEKS_DAYS for name, one in of.items()}
        for said in replay(history, LAST_DAY, every_days=EVERY_DAYS):
            days = days_of(of[said.material], said.known - KNOWN_DAYS, said.known)
            expected = {"ours": float((1 - said.total.below).sum()) * said.total.cell}
            for name, model in models.items():
                expected[name] = float(model.forecast(y=days, h=1)["mean"][0]) * WEEKS_DAYS
            for name, quantity in expected.items():
                missed[name].append(abs(quantity - said.came) / usual[said.material])
    mean = {name: float(np.mean(of_one)) for name, of_one in missed.items()}
    assert mean["ours"] <= min(mean[name] for name in models)
