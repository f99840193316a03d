"""A forecast's figures into the core's label weights: on which days a label has to hold, and what it may say."""

from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_DOWN, Decimal
from typing import Any

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.time import local_day
from curehouse.common.units import GRAM, GRAMS_PER_OUNCE, SMALLEST_G
from curehouse.core.cure.label_weight import (
    BarWeights,
    Label,
    ToleranceRule,
    Wrap,
    chance_that_it_holds,
    cut_weight_g,
    held_back,
    in_wrap,
    label_weight,
)
from curehouse.curing.models import Forecast, LabelWeight
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop

# How sure one may want to be; and how long bars lie on a shelf, 0 for the day they are packed.
PROBABILITIES = (Decimal("0.900"), Decimal("0.950"), Decimal("0.990"))
SHELF_MONTHS = (0, 1, 2, 3, 6, 9, 12)
_MONTHS = 12
# Label weights are whole grams, or tenths of an ounce (common practice, no source).
_STEP_OZ = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class LabelAsked:
    """What a label is to satisfy: which rule, up to when and in which wrap, and how surely."""

    rule: str
    wrap: str
    packed_on: date
    shelf_months: int
    probability: Decimal


@dataclass(frozen=True, slots=True)
class HoldsOn:
    """A day on which a label has to hold, and what bars weigh then in their wrap.

    ``read_day`` is the day after the cut whose figures these are: of those the forecast tells, the first that is
    not before it, when bars have dried on. Of ten bars eight weigh from ``p10`` to ``p90`` of ``weight_g``.
    """

    on: date
    day: int
    read_day: float
    bars: BarWeights
    weight_g: dict[str, float]


@dataclass(frozen=True, slots=True)
class LabelFound:
    """The largest label that does, how likely the rule holds with it, and with the next one up."""

    asked: LabelAsked
    forecast: Forecast
    bars: int
    step_g: float
    days: tuple[HoldsOn, ...]
    label: Label | None
    next_up: Label | None

    @property
    def weight_g(self) -> Decimal | None:
        """Return the label in grams as it is kept: never rounded up."""
        return None if self.label is None else Decimal(str(self.label.weight_g)).quantize(SMALLEST_G, rounding=ROUND_DOWN)

    @property
    def basis(self) -> str:
        """Return what it rests on, so that a page tells whether it was another when it was shown."""
        return f"{self.forecast.fingerprint}-{self.bars}"


def step_of(workshop: Workshop) -> float:
    """Return the step of label weights in grams."""
    return 1.0 if workshop.unit == GRAM else float(_STEP_OZ * GRAMS_PER_OUNCE)


def months_after(day: date, months: int) -> date:
    """Return the day so many months later, or the month's last where it has no such day."""
    year, month = divmod(day.month - 1 + months, _MONTHS)
    return date(day.year + year, month + 1, min(day.day, monthrange(day.year + year, month + 1)[1]))


def check_asked(asked: LabelAsked, forecast: Forecast, cut_on: date) -> None:
    """Refuse what no label can be worked out for, with what to do."""
    if asked.rule not in LabelWeight.Rule.values:
        raise Invalid("rule", "Choose a rule from the list.", field="rule")
    if asked.wrap not in LabelWeight.Wrap.values:
        raise Invalid("wrap", "Choose what the bars are sold in from the list.", field="wrap")
    if asked.probability not in PROBABILITIES:
        raise Invalid("probability", "Choose how sure to be: 90, 95 or 99 %.", field="probability")
    if asked.shelf_months not in SHELF_MONTHS:
        raise Invalid("shelf_months", "Choose the months on the shelf from the list.", field="shelf_months")
    min_days, last_day = forecast.asked["rule"]["min_days"], round(forecast.asked["days"][-1])
    packed_day = (asked.packed_on - cut_on).days
    if packed_day < min_days:
        first = cut_on + timedelta(days=min_days)
        raise Invalid(
            "packed_early", f"Bars are packed once they are old enough: on {first:%Y-%m-%d} or later.", field="packed_on"
        )
    last = cut_on + timedelta(days=last_day)
    if packed_day > last_day:
        raise Invalid("beyond", f"The forecast reaches to {last:%Y-%m-%d}: choose a day before.", field="packed_on")
    if (months_after(asked.packed_on, asked.shelf_months) - cut_on).days > last_day:
        raise Invalid(
            "beyond",
            f"The forecast reaches to {last:%Y-%m-%d}: choose fewer months, or an earlier day of packing.",
            field="shelf_months",
        )


def find_label(*, batch: Batch, workshop: Workshop, forecast: Forecast | None, asked: LabelAsked) -> LabelFound:
    """Return the largest label that does what is asked, for the bars that are left of a batch in cure."""
    if batch.state != Batch.State.CURING or batch.cut_at is None:
        raise Conflict("not_curing", f"{batch} has no bars on the racks to label.")
    if forecast is None:
        raise Conflict("no_forecast", f"{batch} has no forecast yet: weigh its sample bars, and its label follows from it.")
    cut_on = local_day(batch.cut_at, workshop.time_zone)
    return largest_label(asked, forecast, cut_on, bars=batch.bars_left, step_g=step_of(workshop))


def largest_label(asked: LabelAsked, forecast: Forecast, cut_on: date, *, bars: int, step_g: float) -> LabelFound:
    """Return the largest label that does what is asked, of so many bars that were cut on a day."""
    check_asked(asked, forecast, cut_on)
    days, count, rule = days_of(asked, forecast, cut_on), bars, ToleranceRule(asked.rule)
    try:
        found = label_weight([one.bars for one in days], rule, count=count, probability=float(asked.probability), step_g=step_g)
        following = None if found is None else found.weight_g + step_g
        next_up = None if following is None else Label(following, least_chance(days, rule, following, count=count))
    except ValueError as error:
        raise Invalid(
            "not_in_table", "Bars so heavy are not in the table of this rule: choose the other rule.", field="rule"
        ) from error
    return LabelFound(asked=asked, forecast=forecast, bars=count, step_g=step_g, days=days, label=found, next_up=next_up)


def days_of(asked: LabelAsked, forecast: Forecast, cut_on: date) -> tuple[HoldsOn, ...]:
    """Return the day of packing, and the last on the shelf where bars are to lie on one."""
    packed = _told(forecast, (asked.packed_on - cut_on).days)
    found = [_holds_on(asked.packed_on, cut_on, packed, packed)]
    if asked.shelf_months:
        last = months_after(asked.packed_on, asked.shelf_months)
        later = _told(forecast, (last - cut_on).days)
        found.append(_holds_on(last, cut_on, later, packed, Wrap(asked.wrap)))
    return tuple(found)


def least_chance(days: Sequence[HoldsOn], rule: ToleranceRule, label_g: float, *, count: int) -> float:
    """Return how likely a label satisfies the rule on the worst of the days."""
    return min(chance_that_it_holds(one.bars, label_g, rule, count=count) for one in days)


def chance_now(label: LabelWeight, forecast: Forecast, cut_on: date) -> float:
    """Return how likely a kept label satisfies its rule by another forecast than it was chosen by."""
    days = days_of(asked_again(label), forecast, cut_on)
    return least_chance(days, ToleranceRule(label.rule), float(label.weight_g), count=label.bars)


def asked_again(label: LabelWeight) -> LabelAsked:
    """Return what a label that was kept is to satisfy."""
    return LabelAsked(label.rule, label.wrap, label.packed_on, label.shelf_months, label.probability)


def cut_for(found: LabelFound, label_g: float) -> float | None:
    """Return the average weight in grams to cut bars like these to for a label; None where no weight would do."""
    try:
        return cut_weight_g(
            label_g,
            BarWeights(**_figures(_at(found.forecast, 0))).mean_g,
            [one.bars for one in found.days],
            ToleranceRule(found.asked.rule),
            count=found.bars,
            probability=float(found.asked.probability),
        )
    except ValueError:
        return None


def _holds_on(on: date, cut_on: date, told: Mapping[str, Any], packed: Mapping[str, Any], wrap: Wrap = Wrap.OPEN) -> HoldsOn:
    before, then = BarWeights(**_figures(packed)), BarWeights(**_figures(told))
    weight_g = {name: held_back(packed["weight_g"][name], told["weight_g"][name], wrap) for name in ("p10", "p50", "p90")}
    return HoldsOn(on, (on - cut_on).days, told["day"], in_wrap(before, then, wrap), weight_g)


def _told(forecast: Forecast, day: int) -> Mapping[str, Any]:
    """Return what is told of a new bar on a day or else the next one of which something is."""
    return _at(forecast, next(at for at, told in enumerate(forecast.asked["days"]) if told >= day))


def _at(forecast: Forecast, at: int) -> Mapping[str, Any]:
    return forecast.foretold["new_bar"][at]


def _figures(told: Mapping[str, Any]) -> dict[str, float]:
    return {name: told[name] for name in ("mean_g", "mean_sd_g", "bar_sd_g")}
