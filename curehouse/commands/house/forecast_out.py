"""What ``forecast_cure`` writes of a batch: the figures that the house's pages and API say of the same weighings."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any

from curehouse.commands.house.refusal import Refused
from curehouse.common.errors import DomainError
from curehouse.core.cure.doubt import look_at
from curehouse.core.cure.forecast.batches import ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.doubtful import DoubtfulWeighing
from curehouse.core.cure.forecast.foretold import BatchForecast
from curehouse.core.cure.foretold_weights import bar_on
from curehouse.core.cure.rule import SampleSeries
from curehouse.core.cure.series import Weighing
from curehouse.curing.doubts import as_kept
from curehouse.curing.foretelling import asked_of
from curehouse.curing.labels import LabelAsked, LabelFound, check_asked, largest_label
from curehouse.curing.models import Forecast, LabelWeight

# Ten years; and of what labels are multiples.
_MOST_PACKED_DAY = 3650
_LEAST_STEP_G, _MOST_STEP_G = 0.01, 100.0


@dataclass(frozen=True, slots=True)
class BatchTold:
    """A batch of the files, what was foretold of it, and where they are known its cut and how many bars there are."""

    batch: WeighedBatch
    foretold: BatchForecast
    doubts: tuple[DoubtfulWeighing, ...]
    cut_on: date | None = None
    bars: int | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of each batch: the house's rule and days, one day more, and what a label is to satisfy."""

    rule: ForecastRule
    step_g: float
    final_day: float
    label: Mapping[str, Any] = field(default_factory=dict)

    @property
    def asked(self) -> dict[str, Any]:
        """Return what a house asks of a forecast, as it keeps it."""
        return asked_of(self.rule, step_g=self.step_g)

    @property
    def days(self) -> list[float]:
        """Return all days since the cut that are wanted."""
        return sorted({*self.asked["days"], self.final_day})


def told_plainly(told: BatchTold, question: Question) -> dict[str, Any]:
    """Return what is written of a batch."""
    plain, at = told.foretold.as_plain(), question.days.index(question.final_day)
    kept = _on_house_days(plain, question)
    ready, (label, why) = plain["ready_day"], _label(told, kept, question)
    return {
        **{f"ready_day_{name}": value for name, value in ready.items()},
        "ready_from": _day(told.cut_on, ready["p10"], question.rule),
        "ready_by": _day(told.cut_on, ready["p90"], question.rule),
        "soft_probability": plain["soft_probability"],
        "bars": {label: ranges[at] for label, ranges in plain["weight_g"].items()},
        "new_bar": plain["new_bar"][at]["weight_g"],
        "water_left_pct": plain["water_left_pct"][at],
        "at_ready": _at_ready(kept, question),
        "label": label,
        "label_why": why,
        "by_day": {"days": question.asked["days"], **{name: kept[name] for name in ("weight_g", "new_bar", "water_left_pct")}},
        "odd_probability": plain["odd_probability"],
        "asked": asked_as_they_come_in(told.batch, step_g=question.step_g),
        "faults": [[plain["key"], said.bar, said.day] for said in told.doubts],
        "doubts": [
            {
                "bar": said.bar,
                "day": said.day,
                "kind": said.doubt.kind.value,
                "question": said.doubt.question,
                "guess_g": said.doubt.guess_g,
            }
            for said in told.doubts
        ],
    }


def _on_house_days(plain: Mapping[str, Any], question: Question) -> dict[str, Any]:
    """Return the figures of the days a house asks for: between these it reads off straight lines."""
    places = [question.days.index(day) for day in question.asked["days"]]

    def of(figures: Sequence[Any]) -> list[Any]:
        return [figures[place] for place in places]

    weights = {label: of(ranges) for label, ranges in plain["weight_g"].items()}
    return {
        **plain,
        "weight_g": weights,
        "new_bar": of(plain["new_bar"]),
        "water_left_pct": of(plain["water_left_pct"]),
    }


def _day(cut_on: date | None, days: float, rule: ForecastRule) -> str | None:
    if cut_on is None or days >= rule.horizon_days:
        return None
    return (cut_on + timedelta(days=round(days))).isoformat()


def _at_ready(kept: Mapping[str, Any], question: Question) -> dict[str, Any] | None:
    """Return a bar on the day by which half of such batches are dry enough; None beyond the horizon."""
    day = kept["ready_day"]["p50"]
    return None if day >= question.rule.horizon_days else asdict(bar_on(question.asked["days"], kept, float(round(day))))


def _label(told: BatchTold, kept: Mapping[str, Any], question: Question) -> tuple[dict[str, Any] | None, str]:
    """Return the largest label that does, packed when nine of ten such batches are dry, or else None and why there is none."""
    if told.cut_on is None or told.bars is None:
        return None, "Its cut_date and bars are not said."
    try:
        asked = _label_asked(told.cut_on, kept, question)
        forecast = Forecast(asked=question.asked, foretold=kept)
        check_asked(asked, forecast, told.cut_on)
        found = largest_label(asked, forecast, told.cut_on, bars=told.bars, step_g=_label_step(question.label))
    except DomainError as error:
        return None, error.message
    return _plain_label(asked, found), ""


def _label_asked(cut_on: date, kept: Mapping[str, Any], question: Question) -> LabelAsked:
    """Return what a label is to satisfy, by the parameters or else as a house asks it."""
    ready, rule, label = kept["ready_day"]["p90"], question.rule, question.label
    packed_day = label.get("packed_day", round(ready) if ready < rule.horizon_days else rule.latest_day)
    months = label.get("shelf_months", 12)
    try:
        probability = Decimal(str(label.get("probability", "0.95")))
    except InvalidOperation:
        probability = Decimal(0)
    whole = all(isinstance(one, int) and not isinstance(one, bool) for one in (packed_day, months))
    if not whole or not probability.is_finite() or probability <= 0 or abs(packed_day) > _MOST_PACKED_DAY:
        raise Refused(
            "In the parameters, label must hold rule, wrap, packed_day, shelf_months and probability: "
            "days and months are whole numbers, the probability is one such as 0.95."
        )
    return LabelAsked(
        rule=str(label.get("rule", LabelWeight.Rule.DIRECTIVE_76_211)),
        wrap=str(label.get("wrap", LabelWeight.Wrap.OPEN)),
        packed_on=cut_on + timedelta(days=packed_day),
        shelf_months=months,
        probability=probability,
    )


def _label_step(label: Mapping[str, Any]) -> float:
    step_g = label.get("step_g", 1)
    if isinstance(step_g, bool) or not isinstance(step_g, int | float) or not _LEAST_STEP_G <= step_g <= _MOST_STEP_G:
        raise Refused(f"In the parameters, step_g of label must be a number from {_LEAST_STEP_G:g} to {_MOST_STEP_G:g}.")
    return float(step_g)


def _plain_label(asked: LabelAsked, found: LabelFound) -> dict[str, Any]:
    return {
        "rule": asked.rule,
        "wrap": asked.wrap,
        "packed_on": asked.packed_on.isoformat(),
        "shelf_months": asked.shelf_months,
        "probability": f"{asked.probability}",
        "bars": found.bars,
        "weight_g": None if found.weight_g is None else f"{found.weight_g}",
        "chance": None if found.label is None else found.label.probability,
        "next_up_chance": None if found.next_up is None else found.next_up.probability,
        "days": [
            {"on": one.on.isoformat(), "day": one.day, "read_day": one.read_day, **asdict(one.bars), "weight_g": one.weight_g}
            for one in found.days
        ],
    }


def asked_as_they_come_in(batch: WeighedBatch, *, step_g: float) -> list[dict[str, Any]]:
    """Return what a house asks about where these weighings come in as a list, in the order in which they were made."""
    series = {bar.label: SampleSeries(bar.label, ()) for bar in batch.bars}
    weighed = [
        (day, place, bar.label, weight_g)
        for place, bar in enumerate(batch.bars)
        for day, weight_g in zip(bar.days, bar.weights_g, strict=True)
    ]
    found: list[dict[str, Any]] = []
    for day, _place, label, weight_g in sorted(weighed):
        own = series[label]
        others = tuple(one for other, one in series.items() if other != label)
        doubt = look_at(weight_g, own.weighings, day, batch=others, water_share=batch.water_share, step_g=step_g)
        series[label] = replace(own, weighings=(*own.weighings, Weighing(day, weight_g, doubtful=doubt is not None)))
        if doubt is not None:
            kept = as_kept(doubt)
            guess_g = None if kept.guess_g is None else f"{kept.guess_g:.3f}"
            figures = {name: kept.detail[name] for name in ("question", "expected_low_g", "expected_high_g")}
            found.append({"bar": label, "day": day, "kind": kept.kind, "guess_g": guess_g, **figures})
    return found
