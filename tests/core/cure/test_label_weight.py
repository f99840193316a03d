"""The label weight against the published tolerance tables, and against bars that are simply drawn."""

import csv
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student

from curehouse.core.cure.label_weight import (
    BarWeights,
    ToleranceRule,
    Wrap,
    allowable_variation_g,
    chance_that_it_holds,
    cut_weight_g,
    in_wrap,
    label_weight,
    sample_correction,
    sample_holds,
    tolerable_error_g,
)

REFERENCE = Path(__file__).parents[2] / "reference"
DIRECTIVE, HANDBOOK = ToleranceRule.DIRECTIVE_76_211, ToleranceRule.HANDBOOK_133
BARS = BarWeights(mean_g=104.0, mean_sd_g=0.6, bar_sd_g=3.5)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("tne_76_211.csv")[:-1], ids=lambda row: row["nominal_from_g"])
def test_the_tolerable_error_is_the_directives(row: dict[str, str]) -> None:
    low, high = float(row["nominal_from_g"]), float(row["nominal_to_g"])
    for label_g in (low + 0.37 * (high - low), high):
        if row["TNE_g"]:
            assert tolerable_error_g(label_g) == float(row["TNE_g"])
        else:
            exact = label_g * float(row["TNE_percent"]) / 100
            assert exact - 1e-9 <= tolerable_error_g(label_g) < exact + 0.1


@pytest.mark.parametrize("row", rows("hb133_mav_weight.csv"), ids=lambda row: row["labelled_g"])
def test_the_allowable_variation_is_the_handbooks(row: dict[str, str]) -> None:
    figures = [float(one) for one in re.findall(r"\d+", row["labelled_g"])]
    if len(figures) == 1:
        assert allowable_variation_g(35.0) == pytest.approx(3.5)
    else:
        assert allowable_variation_g(sum(figures) / 2) == float(row["MAV_g"])
        assert allowable_variation_g(figures[1]) == float(row["MAV_g"])
        assert allowable_variation_g(figures[0] + 0.1) == float(row["MAV_g"])


@pytest.mark.parametrize("row", rows("hb133_sample_plan.csv")[1:], ids=lambda row: row["sample_size_n"])
def test_the_sample_correction_is_the_handbooks(row: dict[str, str]) -> None:
    assert sample_correction(int(row["sample_size_n"])) == pytest.approx(float(row["sample_correction_factor_SCF"]), abs=6e-4)


@pytest.mark.parametrize("n", [*range(2, 40), 100, 401])
def test_the_sample_correction_is_students_t_as_scipy_has_it(n: int) -> None:
    assert sample_correction(n) == pytest.approx(student.ppf(0.975, n - 1) / np.sqrt(n), rel=1e-9)


def drawn_chance(bars: BarWeights, label_g: float, rule: ToleranceRule, count: int, draws: int = 20_000) -> float:
    """Draw batches and hold every bar against the rule's own words."""
    rng = np.random.default_rng(4)
    mean = bars.mean_g + bars.mean_sd_g * rng.standard_normal((draws, 1))
    weights = mean + bars.bar_sd_g * rng.standard_normal((draws, count))
    right = weights.mean(axis=1) >= label_g
    if rule is HANDBOOK:
        return float((right & (weights.min(axis=1) >= label_g - allowable_variation_g(label_g))).mean())
    error = tolerable_error_g(label_g)
    few = (weights < label_g - error).sum(axis=1) <= 0.025 * count
    return float((right & few & (weights.min(axis=1) >= label_g - 2 * error)).mean())


@pytest.mark.parametrize("rule", list(ToleranceRule))
@pytest.mark.parametrize("count", [10, 48, 160])
def test_the_chance_is_that_of_bars_drawn_one_by_one_or_a_little_less(rule: ToleranceRule, count: int) -> None:
    for label_g in (96.0, 99.0, 101.0, 103.0):
        said, drawn = chance_that_it_holds(BARS, label_g, rule, count=count), drawn_chance(BARS, label_g, rule, count)
        assert said < drawn + 0.01
        assert drawn < 0.9 or said > drawn - 0.03


@pytest.mark.parametrize("rule", list(ToleranceRule))
def test_the_label_is_the_largest_that_holds(rule: ToleranceRule) -> None:
    found = label_weight([BARS], rule, count=48)
    assert found is not None
    assert found.probability >= 0.95
    assert drawn_chance(BARS, found.weight_g, rule, 48) >= 0.94
    assert all(chance_that_it_holds(BARS, found.weight_g + up, rule, count=48) < 0.95 for up in range(1, 20))


def test_a_label_that_holds_until_the_end_of_sale_is_the_lighter_one() -> None:
    packed, sold = BARS, BarWeights(100.0, 1.0, 3.4)
    only, both = label_weight([packed], DIRECTIVE, count=48), label_weight([packed, sold], DIRECTIVE, count=48)
    assert both == label_weight([sold], DIRECTIVE, count=48)
    assert only is not None and both is not None and both.weight_g < only.weight_g


def test_a_wrap_holds_drying_back() -> None:
    later = BarWeights(100.0, 1.0, 3.4)
    weights = [in_wrap(BARS, later, wrap).mean_g for wrap in (Wrap.SEALED, Wrap.BAND, Wrap.OPEN)]
    assert weights == [104.0, 102.0, 100.0]


@given(label=st.integers(40, 200), rule=st.sampled_from(list(ToleranceRule)), spread=st.floats(0.005, 0.05))
def test_bars_cut_to_the_weight_asked_for_bear_the_label(label: int, rule: ToleranceRule, spread: float) -> None:
    days = [BarWeights(100.0, 0.7, 100 * spread)]
    cut_g = cut_weight_g(label, 115.0, days, rule, count=40)
    enough = chance_that_it_holds(days[0].times(cut_g / 115.0), label, rule, count=40)
    less = chance_that_it_holds(days[0].times((cut_g - 0.2) / 115.0), label, rule, count=40)
    assert enough >= 0.95 - 1e-9 > less


def test_a_forecast_that_knows_nothing_bears_no_label() -> None:
    vague = BarWeights(100.0, 60.0, 3.0)
    assert label_weight([vague], DIRECTIVE, count=48, probability=0.99) is None
    with pytest.raises(ValueError, match="too vague"):
        cut_weight_g(90.0, 110.0, [vague], DIRECTIVE, count=48, probability=0.99)


def test_moisture_granted_allows_a_heavier_label() -> None:
    plain, granted = (label_weight([BARS], HANDBOOK, count=48, moisture_pct=pct) for pct in (0.0, 3.0))
    assert plain is not None and granted is not None and granted.weight_g > plain.weight_g


@pytest.mark.parametrize(
    ("weights", "rule", "right"),
    [
        ([100.0] * 40, DIRECTIVE, True),
        ([99.9] * 40, DIRECTIVE, False),
        ([101.0] * 39 + [95.0], DIRECTIVE, True),
        ([101.0] * 38 + [95.0, 95.0], DIRECTIVE, False),
        ([103.0] * 39 + [90.9], DIRECTIVE, False),
        ([99.9, 100.0, 99.7, 100.1], HANDBOOK, True),
        ([99.9] * 4, HANDBOOK, False),
        ([102.0] * 11 + [92.7], HANDBOOK, False),
        ([102.0] * 47 + [92.7], HANDBOOK, True),
    ],
)
def test_bars_that_were_weighed_are_judged_by_the_rules_own_words(
    weights: list[float], rule: ToleranceRule, right: bool
) -> None:
    assert sample_holds(weights, 100.0, rule) is right


@pytest.mark.parametrize("label_g", [4.9, 0.0, float("nan")])
def test_a_label_too_small_is_refused(label_g: float) -> None:
    with pytest.raises(ValueError, match="5 g or more"):
        tolerable_error_g(label_g)
