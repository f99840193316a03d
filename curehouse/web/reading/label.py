"""A batch's label weight: what it may say, how that was got, and what was chosen."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from math import floor
from typing import Any

from curehouse.common.time import day_words
from curehouse.common.units import GRAM, show_at_least, show_mass
from curehouse.core.cure.label_weight import MOST_BEYOND, ToleranceRule, allowable_variation_g, tolerable_error_g
from curehouse.curing.labels import (
    SHELF_MONTHS,
    HoldsOn,
    LabelFound,
    asked_again,
    chance_now,
    cut_for,
    days_of,
    months_after,
)
from curehouse.curing.models import Cure, LabelWeight
from curehouse.curing.shelf import DRY_ENOUGH
from curehouse.making.models import Batch
from curehouse.web.forms.label import months_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.forecast import range_words
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop

_SHORT_PRINT = 12


@dataclass(frozen=True, slots=True)
class DayLine:
    """What bars weigh on a day on which the label has to hold."""

    when: str
    day: str
    average: str
    known_to: str
    spread: str
    most: str


@dataclass(frozen=True, slots=True)
class LabelView:
    """A label weight worked out; ``label`` is empty where none does."""

    label: str
    says: str
    days: tuple[DayLine, ...]
    rule_says: str
    chances: str
    cut_for: str


@dataclass(frozen=True, slots=True)
class ChosenLabel:
    """A label weight that was kept, with what bars weigh by the newest forecast when it has to hold.

    ``no_longer`` says so where that forecast would not allow it.
    """

    weight: str
    weighs: str
    holds: str
    kept: str
    no_longer: str


def label_said(grams: Decimal | float, unit: str) -> str:
    """Return a label weight as it stands on a label: ``108 g``, ``3.8 oz``."""
    return show_mass(grams, unit, decimals=0 if unit == GRAM else 1)


def chance_said(chance: float) -> str:
    """Return a probability in percent, never rounded up."""
    return f"{floor(1000 * chance) / 10:.1f}\u00a0%"


def first_asked(cure: Cure, calendar: Calendar, last: LabelWeight | None) -> dict[str, Any]:
    """Return what a page asks at first: as it was chosen last, or the stricter; *last* is the workshop's newest label."""
    forecast, cut_on = cure.forecast, calendar.day_of(cure.batch.cut_at)
    rule = forecast.asked["rule"]
    own = cure.label
    usual = own or last
    reach = cut_on + timedelta(days=round(forecast.asked["days"][-1]))
    packed_on = own.packed_on if own else _packed_on(cure, rule, cut_on, calendar.today)
    fitting = [months for months in SHELF_MONTHS if months_after(packed_on, months) <= reach]
    return {
        "rule": usual.rule if usual else LabelWeight.Rule.DIRECTIVE_76_211,
        "wrap": usual.wrap if usual else LabelWeight.Wrap.OPEN,
        "packed_on": packed_on.isoformat(),
        "shelf_months": str(usual.shelf_months if usual else max(fitting, default=0)),
        "probability": str(usual.probability if usual else "0.950"),
    }


def _packed_on(cure: Cure, rule: dict[str, Any], cut_on: date, today: date) -> date:
    """Return a day by which most such batches are ready, not before today."""
    by = cure.forecast.foretold["ready_day"]["p90"]
    day = rule["min_days"] if cure.state in DRY_ENOUGH else rule["latest_day"] if by >= rule["horizon_days"] else round(by)
    return max(today, cut_on + timedelta(days=day))


def read_label(found: LabelFound, workshop: Workshop, today: date, *, wanted_g: float | None) -> LabelView:
    """Return a label weight that was worked out, in words and figures."""
    unit, label = workshop.unit, found.label
    return LabelView(
        label="" if label is None else label_said(label.weight_g, unit),
        says=holds_words(found.asked, today),
        days=tuple(_day_line(number, one, unit, today) for number, one in enumerate(found.days)),
        rule_says=_rule_says(found, unit),
        chances=_chances(found, unit),
        cut_for="" if wanted_g is None else _cut_for(found, wanted_g, unit),
    )


def holds_words(asked: Any, today: date) -> str:
    """Return what a label satisfies: its rule, wrap, moment and probability."""
    last = months_after(asked.packed_on, asked.shelf_months)
    when = months_words(asked.shelf_months)
    packed = f"packed {day_words(asked.packed_on, today=today)}"
    until = f", {day_words(last, today=today)}" if asked.shelf_months else ""
    rule, wrap = LabelWeight.Rule(asked.rule).label, LabelWeight.Wrap(asked.wrap).label
    return f"{rule}; {packed}, sold {wrap}; holds {when}{until}; {100 * asked.probability:.0f}\u00a0% sure."


def _day_line(number: int, one: HoldsOn, unit: str, today: date) -> DayLine:
    taken = "" if one.read_day == one.day else f", by the figures of day\u00a0{round(one.read_day)}"
    return DayLine(
        when=f"{'end of the shelf' if number else 'packing'}, {day_words(one.on, today=today)}",
        day=f"day\u00a0{one.day} after the cut{taken}",
        average=show_mass(one.bars.mean_g, unit),
        known_to=f"±\u00a0{show_mass(one.bars.mean_sd_g, unit)}",
        spread=f"±\u00a0{show_mass(one.bars.bar_sd_g, unit)}",
        most=f"{show_mass(one.weight_g['p10'], unit)} – {show_mass(one.weight_g['p90'], unit)}",
    )


def _rule_says(found: LabelFound, unit: str) -> str:
    if found.label is None:
        return ""
    label_g = found.label.weight_g
    said = label_said(label_g, unit)
    if found.asked.rule == ToleranceRule.HANDBOOK_133:
        short = show_mass(allowable_variation_g(label_g), unit)
        return f"The rule: on average not below {said}, and no bar more than {short} short of it. No loss by drying is granted."
    short, twice = (show_mass(times * tolerable_error_g(label_g), unit) for times in (1, 2))
    few = f"{100 * MOST_BEYOND:.1f}\u00a0%"
    return (
        f"The rule: on average not below {said}, at most {few} of bars more than {short} short of it, none more than {twice}."
    )


def _chances(found: LabelFound, unit: str) -> str:
    bars = count(found.bars, "bar")
    if found.label is None or found.next_up is None:
        return f"For {bars} no weight is as sure as that: weigh once more, or ask for less."
    here, above = (label_said(one.weight_g, unit) for one in (found.label, found.next_up))
    sure, less = (chance_said(one.probability) for one in (found.label, found.next_up))
    return f"That it holds for {bars} is {sure} sure with {here}, {less} with {above}."


def _cut_for(found: LabelFound, wanted_g: float, unit: str) -> str:
    cut_g, wanted = cut_for(found, wanted_g), show_mass(wanted_g, unit, decimals=0 if unit == GRAM else 2)
    if cut_g is None:
        return f"For a label of {wanted} no weight at the cut would do: the forecast is too vague, or the table ends before."
    at_cut = show_mass(found.forecast.foretold["new_bar"][0]["mean_g"], unit)
    return f"For a label of {wanted} cut bars like these to {show_at_least(cut_g, unit)} on average; these were {at_cut}."


def read_chosen(cure: Cure | None, workshop: Workshop, calendar: Calendar) -> ChosenLabel | None:
    """Return the label a batch has (with its forecast and signature at hand), or None."""
    if cure is None or cure.label is None:
        return None
    weighs = _weighs(cure, workshop.unit, calendar)
    return chosen_label(cure.label, workshop, calendar, weighs=weighs, no_longer=_no_longer(cure, calendar))


def _is_over(cure: Cure) -> bool:
    return cure.ended_at is not None or cure.batch.state != Batch.State.CURING or cure.forecast is None


def _weighs(cure: Cure, unit: str, calendar: Calendar) -> str:
    """Return what a bar weighs on the days on which the batch's label has to hold."""
    if _is_over(cure):
        return ""
    packed, *shelf = days_of(asked_again(cure.label), cure.forecast, calendar.day_of(cure.batch.cut_at))
    when = day_words(packed.on, today=calendar.today)
    later = [
        f"at the end of the shelf, {day_words(one.on, today=calendar.today)}, it {range_words(one.weight_g, unit)}"
        for one in shelf
    ]
    return "; ".join([f"When packed, {when}, a bar {range_words(packed.weight_g, unit)}", *later]) + "."


def chosen_label(
    label: LabelWeight, workshop: Workshop, calendar: Calendar, *, weighs: str = "", no_longer: str = ""
) -> ChosenLabel:
    """Return a label that was kept, in words."""
    forecast = label.forecast
    return ChosenLabel(
        weight=label_said(label.weight_g, workshop.unit),
        weighs=weighs,
        holds=holds_words(label, calendar.today),
        kept=(
            f"Chosen by {label.signed_by}, {calendar.day(label.written_at)}, for {count(label.bars, 'bar')}: "
            f"{chance_said(label.chance)} sure by the forecast of {calendar.day(forecast.moment)} "
            f"({forecast.fingerprint[:_SHORT_PRINT]})."
        ),
        no_longer=no_longer,
    )


def _no_longer(cure: Cure, calendar: Calendar) -> str:
    """Return what there is to say where the newest forecast would not allow the label."""
    label, forecast = cure.label, cure.forecast
    if _is_over(cure) or forecast.pk == label.forecast_id:
        return ""
    chance = chance_now(label, forecast, calendar.day_of(cure.batch.cut_at))
    if chance >= label.probability:
        return ""
    wanted = f"{100 * label.probability:.0f}\u00a0%"
    sure = chance_said(chance)
    return f"The newest forecast no longer allows it: by it the rule is {sure} sure to hold, and {wanted} was wanted."
