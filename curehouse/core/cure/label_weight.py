"""The weight to print on a label: bars dry on after release, so it comes from the forecast of a bar that was not weighed.

Two tolerance rules. Directive 76/211/EEC, Annex I: the average not below the label, at most 2.5 % of bars short by more
than the tolerable negative error, none by more than twice that. NIST Handbook 133: the average not below the label, none
short by more than the maximum allowable variation (its table 2-5, most rows from memory: `tests/reference`).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist, fmean, stdev

# Up to this label in g: percent of it, or grams (Annex I, 2.4).
_TOLERABLE = (
    (50.0, 9.0, None), (100.0, None, 4.5), (200.0, 4.5, None), (300.0, None, 9.0), (500.0, 3.0, None),
    (1000.0, None, 15.0), (10_000.0, 1.5, None), (math.inf, None, 150.0),
)  # fmt: skip
# Up to this label in g: grams. Below 36 g a tenth of the label.
_ALLOWABLE = (
    (54.0, 3.6), (81.0, 5.4), (117.0, 7.2), (154.0, 9.0), (208.0, 10.8), (263.0, 12.7), (317.0, 14.5), (381.0, 16.3),
    (426.0, 18.1), (489.0, 19.9),
)  # fmt: skip
_SMALL_G, _SMALL_SHARE = 36.0, 0.1
# A sample of 48 from more than 3,200 packages may hold one beyond the allowable variation (from memory).
_LARGE_SAMPLE = 48
MOST_BEYOND = 0.025
LEAST_LABEL_G = 5.0
# A band around a bar holds back half of what it would lose in the open: common practice, no source.
BAND_SHARE = 0.5
_POINTS = 200
_NORMAL = NormalDist()
_QUANTILES = tuple(_NORMAL.inv_cdf((i + 0.5) / _POINTS) for i in range(_POINTS))


class ToleranceRule(StrEnum):
    """Which rule a label has to satisfy."""

    DIRECTIVE_76_211 = "directive_76_211"
    HANDBOOK_133 = "handbook_133"


class Wrap(StrEnum):
    """What a bar is sold in."""

    OPEN = "open"
    BAND = "band"
    SEALED = "sealed"


@dataclass(frozen=True, slots=True)
class BarWeights:
    """What the bars of a batch weigh on a day, in grams: their average, how well it is known, their spread around it.

    Raises
    ------
    ValueError
        If the average is not above 0 or a spread is negative.
    """

    mean_g: float
    mean_sd_g: float
    bar_sd_g: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mean_g) and self.mean_g > 0 and self.mean_sd_g >= 0 and self.bar_sd_g >= 0):
            raise ValueError("an average weight must be above 0, and a spread must not be negative")

    def times(self, factor: float) -> "BarWeights":
        """Return the same batch cut that many times as heavy."""
        return BarWeights(self.mean_g * factor, self.mean_sd_g * factor, self.bar_sd_g * factor)


@dataclass(frozen=True, slots=True)
class Label:
    """A label weight in grams and the probability that the rule holds with it."""

    weight_g: float
    probability: float


def held_back(packed: float, later: float, wrap: Wrap) -> float:
    """Return a weight at the later moment in the wrap of the bar, from what it was packed with and what it is in the open."""
    dried = {Wrap.OPEN: 1.0, Wrap.BAND: 1 - BAND_SHARE, Wrap.SEALED: 0.0}[wrap]
    return packed * (1 - dried) + later * dried


def in_wrap(packed: BarWeights, later: BarWeights, wrap: Wrap) -> BarWeights:
    """Return what bars weigh at the later moment in the wrap they were packed in."""
    return BarWeights(
        held_back(packed.mean_g, later.mean_g, wrap),
        held_back(packed.mean_sd_g, later.mean_sd_g, wrap),
        held_back(packed.bar_sd_g, later.bar_sd_g, wrap),
    )


def tolerable_error_g(label_g: float) -> float:
    """Return the tolerable negative error of a label; percentages are rounded up to a tenth of a gram (to 1 kg)."""
    _check_label(label_g)
    percent, grams = next((percent, grams) for upto, percent, grams in _TOLERABLE if label_g <= upto)
    if grams is not None:
        return grams
    return math.ceil(label_g * (percent or 0.0) / 10 - 1e-9) / 10


def allowable_variation_g(label_g: float) -> float:
    """Return the maximum allowable variation below a label.

    Raises
    ------
    ValueError
        If the label is above 489 g: no bar of soap, and not in the table kept here.
    """
    _check_label(label_g)
    if label_g < _SMALL_G:
        return _SMALL_SHARE * label_g
    for upto, grams in _ALLOWABLE:
        if label_g <= upto:
            return grams
    raise ValueError("labels above 489 g are not in the table of allowable variations")


def sample_correction(bars: int) -> float:
    """Return t(0.975, n - 1) / sqrt(n), by which an average error may lie below nought in standard deviations.

    Raises
    ------
    ValueError
        If there are fewer than two bars.
    """
    if bars < 2:
        raise ValueError("a sample correction needs at least two bars")
    low, high = 0.0, 13.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if _within(middle, bars - 1) < 0.95 else (low, middle)
    return (low + high) / 2 / math.sqrt(bars)


def _within(t: float, freedom: int) -> float:
    """Return P(|T| <= t) of Student's t: Abramowitz and Stegun, 26.7.3 and 26.7.4."""
    angle = math.atan(t / math.sqrt(freedom))
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = freedom % 2
    term, total = (cosine, cosine if freedom > 1 else 0.0) if odd else (1.0, 1.0)
    for k in range(3 if odd else 2, freedom - 1, 2):
        term *= (k - 1) / k * cosine**2
        total += term
    return 2 / math.pi * (angle + sine * total) if odd else sine * total


def sample_holds(weights_g: Sequence[float], label_g: float, rule: ToleranceRule, *, moisture_pct: float = 0.0) -> bool:
    """Say whether bars that were weighed satisfy a rule, as an inspector would.

    Parameters
    ----------
    weights_g
        Net weights of the bars of the sample.
    moisture_pct
        Loss by drying that the jurisdiction grants under Handbook 133, in % of the label.

    Raises
    ------
    ValueError
        If there are no weights.
    """
    if not weights_g:
        raise ValueError("a sample needs at least one weight")
    if rule is ToleranceRule.DIRECTIVE_76_211:
        error_g = tolerable_error_g(label_g)
        beyond = sum(weight < label_g - error_g for weight in weights_g)
        return (
            fmean(weights_g) >= label_g and beyond <= MOST_BEYOND * len(weights_g) and min(weights_g) >= label_g - 2 * error_g
        )
    granted_g = label_g * moisture_pct / 100
    least_g = label_g - granted_g - allowable_variation_g(label_g)
    short = sum(weight < least_g for weight in weights_g)
    if short > (1 if len(weights_g) >= _LARGE_SAMPLE else 0):
        return False
    if len(weights_g) == 1:
        return True
    return fmean(weights_g) - label_g + granted_g >= -sample_correction(len(weights_g)) * stdev(weights_g)


def chance_that_it_holds(
    bars: BarWeights, label_g: float, rule: ToleranceRule, *, count: int, moisture_pct: float = 0.0
) -> float:
    """Return at least the probability that all of `count` bars together satisfy a rule.

    The average and the tails are taken for independent given the batch's average, which can only be too low a
    figure: heavier bars help both (Harris' inequality). Of Handbook 133 the sample correction is not drawn on.

    Parameters
    ----------
    count
        Number of bars that carry the label.
    moisture_pct
        As in `sample_holds`.

    Raises
    ------
    ValueError
        If there is no bar, or the moisture granted is not 0 to below 100 %.
    """
    if count < 1:
        raise ValueError("count must be 1 or more")
    if not 0 <= moisture_pct < 100:
        raise ValueError("moisture_pct must be 0 or more and below 100")
    chance = _directive(label_g, count) if rule is ToleranceRule.DIRECTIVE_76_211 else _handbook(label_g, count, moisture_pct)
    return fmean(chance(bars.mean_g + q * bars.mean_sd_g, bars.bar_sd_g) for q in _QUANTILES)


def label_weight(
    days: Sequence[BarWeights],
    rule: ToleranceRule,
    *,
    count: int,
    probability: float = 0.95,
    step_g: float = 1.0,
    moisture_pct: float = 0.0,
) -> Label | None:
    """Return the largest label that satisfies the rule with a probability on each of the days; None if none does.

    Parameters
    ----------
    days
        What the bars weigh at the chosen moment; several if it must hold on any of them, such as packing and end of sale.
    count, moisture_pct
        As in `chance_that_it_holds`.
    probability
        How sure to be.
    step_g
        Labels are multiples of this.

    Raises
    ------
    ValueError
        If no day is given, or a figure is out of its range.
    """
    _check(days, probability, step_g)
    most_g = min(bars.mean_g + 6 * (bars.mean_sd_g + bars.bar_sd_g) for bars in days)
    for steps in range(math.floor(most_g / step_g), 0, -1):
        label_g = steps * step_g
        if label_g < LEAST_LABEL_G:
            break
        found = min(chance_that_it_holds(bars, label_g, rule, count=count, moisture_pct=moisture_pct) for bars in days)
        if found >= probability:
            return Label(label_g, found)
    return None


def cut_weight_g(
    label_g: float,
    cut_g: float,
    days: Sequence[BarWeights],
    rule: ToleranceRule,
    *,
    count: int,
    probability: float = 0.95,
    moisture_pct: float = 0.0,
) -> float:
    """Return the average weight to cut to for a wanted label, in grams, rounded up to a tenth.

    Parameters
    ----------
    label_g
        The label wanted.
    cut_g
        Average weight at the cut of bars like those of `days`: they lose the same shares, whatever their size.
    days, count, probability, moisture_pct
        As in `label_weight`.

    Raises
    ------
    ValueError
        If no day is given, a figure is out of its range, or the forecast is too vague for any weight to do.
    """
    _check(days, probability, cut_g)

    def holds(factor: float) -> bool:
        times = [bars.times(factor) for bars in days]
        return (
            min(chance_that_it_holds(one, label_g, rule, count=count, moisture_pct=moisture_pct) for one in times)
            >= probability
        )

    low = 0.0
    high = label_g / min(bars.mean_g for bars in days)
    for _ in range(8):
        if holds(high):
            break
        low, high = high, high * 1.5
    else:
        raise ValueError("the forecast is too vague for any cut weight to do")
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return math.ceil(cut_g * high * 10 - 1e-9) / 10


def _directive(label_g: float, count: int) -> Callable[[float, float], float]:
    error_g, allowed = tolerable_error_g(label_g), int(MOST_BEYOND * count)

    def chance(mean_g: float, sd_g: float) -> float:
        once, twice = (_below(label_g - times * error_g, mean_g, sd_g) for times in (1, 2))
        between = once - twice
        few = sum(math.comb(count, i) * between**i * (1 - once) ** (count - i) for i in range(allowed + 1))
        return few * (1 - _below(label_g, mean_g, sd_g / math.sqrt(count)))

    return chance


def _handbook(label_g: float, count: int, moisture_pct: float) -> Callable[[float, float], float]:
    granted_g, variation_g = label_g * (1 - moisture_pct / 100), allowable_variation_g(label_g)

    def chance(mean_g: float, sd_g: float) -> float:
        none = (1 - _below(granted_g - variation_g, mean_g, sd_g)) ** count
        return none * (1 - _below(granted_g, mean_g, sd_g / math.sqrt(count)))

    return chance


def _below(limit_g: float, mean_g: float, sd_g: float) -> float:
    if sd_g == 0:
        return float(mean_g < limit_g)
    return _NORMAL.cdf((limit_g - mean_g) / sd_g)


def _check_label(label_g: float) -> None:
    if not label_g >= LEAST_LABEL_G:
        raise ValueError(f"a label must be {LEAST_LABEL_G:g} g or more")


def _check(days: Sequence[BarWeights], probability: float, grams: float) -> None:
    if not days:
        raise ValueError("a label needs at least one day on which it must hold")
    if not 0 < probability < 1:
        raise ValueError("probability must lie between 0 and 1")
    if not grams > 0:
        raise ValueError("a weight or a step must be above 0")
