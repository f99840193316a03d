"""Bars of one round that are all off alike: something stood on the scale, or its zero was off."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from .expected import Expected, before_the_round, expected_range, of_round
from .foretold_weights import Foretold
from .rule import SampleSeries
from .series import Weighing, in_order

# How far two bars may differ in how they dried since their last weights, as a share of the weight.
DRIFT_SHARE = 0.008
# Beyond the shown range by this part of the slack, several bars alike are beyond what air does.
PART_OF_SLACK = 0.5


@dataclass(frozen=True, slots=True)
class Tare:
    """Something that stands on a scale and can be forgotten: what it is called, and its weight in grams."""

    label: str
    weight_g: float


@dataclass(frozen=True, slots=True)
class CommonOffset:
    """By how many grams bars of a round are off alike (negative: too light), and which others are."""

    offset_g: float
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Off:
    """How a weight differs from the likeliest one, and how far it lies outside its range in slacks."""

    offset_g: float
    slacks_outside: float


def off_alike(one_g: float, other_g: float, weight_g: float, step_g: float) -> bool:
    """Whether two bars of about a weight are off by as much, as far as scale and drying let one tell."""
    return abs(one_g - other_g) <= 2 * step_g + DRIFT_SHARE * weight_g + 0.1 * abs(other_g)


def common_offset(
    weight_g: float,
    own: Sequence[Weighing],
    day: float,
    *,
    batch: Sequence[SampleSeries],
    water_share: float | None,
    step_g: float,
    scale: int | None,
    expected: Expected,
    foretold: Foretold | None = None,
) -> CommonOffset | None:
    """Return by how much this bar and others of the round are off alike, or None.

    Parameters
    ----------
    own
        The bar's weighings that count, in order.
    batch
        The other bars with those of this round, doubtful ones too.
    expected
        The range the weight lies outside of.
    foretold
        What was foretold of this bar; the others bring theirs along.
    day, water_share, step_g, scale
        As in `look_at`.
    """
    earlier = before_the_round(batch, day)
    mine = _off(weight_g, own, day, earlier, water_share, step_g, foretold)
    if mine is None or not mine.slacks_outside:
        return None
    alike, labels = [mine], []
    for index, other in enumerate(batch):
        now = of_round(in_order(other.weighings), day)
        if now is None or now.scale != scale:
            continue
        rest = (*earlier[:index], *earlier[index + 1 :])
        theirs = _off(now.weight_g, earlier[index].weighings, now.day, rest, water_share, step_g, other.foretold)
        if theirs is None or not theirs.slacks_outside:
            continue
        if off_alike(theirs.offset_g, mine.offset_g, weight_g, step_g):
            alike.append(theirs)
            labels.append(other.label)
    if len(alike) < 2 or median(one.slacks_outside for one in alike) < PART_OF_SLACK:
        return None
    offset_g = median(one.offset_g for one in alike)
    # Drying in other air takes the same share of every bar; only a weight beyond the slack is more than that.
    return CommonOffset(offset_g, tuple(sorted(labels))) if offset_g > 0 or not expected.allows(weight_g) else None


def _off(
    weight_g: float,
    own: Sequence[Weighing],
    day: float,
    batch: Sequence[SampleSeries],
    water_share: float | None,
    step_g: float,
    foretold: Foretold | None,
) -> _Off | None:
    expected = expected_range(own, day, batch=batch, water_share=water_share, step_g=step_g, foretold=foretold)
    if expected is None:
        return None
    outside_g = max(weight_g - expected.high_g, expected.low_g - weight_g, 0.0)
    return _Off(weight_g - expected.middle_g, outside_g / expected.slack_g)
