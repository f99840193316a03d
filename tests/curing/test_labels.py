"""A label weight follows from the forecast: on which days it must hold, what the core then allows, and what is kept."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.core.cure.label_weight import BarWeights, ToleranceRule, chance_that_it_holds, label_weight
from curehouse.curing.labels import LabelAsked, chance_now, cut_for, find_label, months_after
from curehouse.curing.models import Cure, Forecast, LabelWeight
from curehouse.curing.services.labels import keep_label
from curehouse.flows.foretell import foretell_wanting
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from tests.flows.test_foretell import cured
from tests.world import World

pytestmark = pytest.mark.django_db


def foretold(world: World, **changes: Any) -> Batch:
    """Return a batch weighed for two weeks, with its forecast."""
    batch = cured(world, days_ago=21, last=14, **changes)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    return batch


def dries_on(world: World, batch: Batch) -> None:
    """Weigh a batch lighter than any of its like would be, again and again, and foretell it anew."""
    world.now += timedelta(days=21)
    world.weigh_series(batch, {21: "119.0", 28: "114.0", 35: "109.5", 41: "106.0"})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)


def cure_of(batch: Batch) -> Cure:
    return Cure.objects.within(batch.workshop).select_related("forecast", "label").get(batch=batch)


def asked(batch: Batch, **changes: Any) -> LabelAsked:
    usual = {"rule": "directive_76_211", "wrap": "open", "shelf_months": 0, "probability": Decimal("0.950")}
    packed_on = batch.cut_at.date() + timedelta(days=changes.pop("packed_day", 42))
    return LabelAsked(**{**usual, "packed_on": packed_on, **changes})


def found(world: World, batch: Batch, **changes: Any) -> Any:
    forecast = cure_of(batch).forecast
    return find_label(batch=batch, workshop=world.workshop, forecast=forecast, asked=asked(batch, **changes))


def new_bar(forecast: Forecast, day: float) -> BarWeights:
    told = forecast.foretold["new_bar"][forecast.asked["days"].index(day)]
    return BarWeights(told["mean_g"], told["mean_sd_g"], told["bar_sd_g"])


def test_the_label_is_the_cores_for_the_forecasts_own_figures(world: World) -> None:
    batch = foretold(world)
    one = found(world, batch)
    bars = new_bar(cure_of(batch).forecast, 42.0)
    assert one.label == label_weight([bars], ToleranceRule.DIRECTIVE_76_211, count=24, probability=0.95)
    assert one.label.probability >= 0.95 > one.next_up.probability
    assert one.next_up.weight_g == one.label.weight_g + 1
    assert one.next_up.probability == chance_that_it_holds(bars, one.next_up.weight_g, ToleranceRule.DIRECTIVE_76_211, count=24)


def test_at_the_end_of_the_shelf_it_is_lower_and_a_wrap_holds_some_of_that_back(world: World) -> None:
    batch = foretold(world)
    sale = found(world, batch).label.weight_g
    year = {wrap: found(world, batch, shelf_months=12, wrap=wrap).label.weight_g for wrap in ("open", "band", "sealed")}
    assert year["open"] < year["band"] < year["sealed"] == sale


def test_eight_of_ten_bars_are_said_for_each_day_by_the_figures_the_label_goes_by(world: World) -> None:
    batch = foretold(world)
    told = cure_of(batch).forecast.foretold["new_bar"]
    at = cure_of(batch).forecast.asked["days"].index
    packed, year = (found(world, batch, packed_day=43, shelf_months=12).days[n].weight_g for n in (0, 1))
    assert packed == told[at(49.0)]["weight_g"] and year == told[at(456.0)]["weight_g"]
    sealed = found(world, batch, packed_day=43, shelf_months=12, wrap="sealed").days[1].weight_g
    band = found(world, batch, packed_day=43, shelf_months=12, wrap="band").days[1].weight_g
    assert sealed == packed
    assert all(band[name] == pytest.approx((packed[name] + year[name]) / 2) for name in ("p10", "p50", "p90"))


def test_between_the_days_a_forecast_tells_the_later_counts_when_bars_are_lighter(world: World) -> None:
    batch = foretold(world)
    day = found(world, batch, packed_day=43).days[0]
    assert (day.day, day.read_day) == (43, 49.0)
    assert day.bars.mean_g == new_bar(cure_of(batch).forecast, 49.0).mean_g


def test_months_end_where_the_calendars_do() -> None:
    assert months_after(date(2026, 8, 31), 6) == date(2027, 2, 28)
    assert months_after(date(2026, 12, 15), 12) == date(2027, 12, 15)
    assert months_after(date(2026, 3, 10), 0) == date(2026, 3, 10)


def test_the_surer_and_the_more_bars_the_lower(world: World) -> None:
    batch = foretold(world)
    sure = [found(world, batch, probability=one).label.weight_g for one in map(Decimal, ("0.900", "0.950", "0.990"))]
    assert sure[0] >= sure[1] >= sure[2]
    assert sure[0] > sure[2]


def test_a_heavier_label_wants_a_heavier_cut(world: World) -> None:
    batch = foretold(world)
    one = found(world, batch)
    at_cut = new_bar(cure_of(batch).forecast, 0.0).mean_g
    assert cut_for(one, one.label.weight_g) <= at_cut + 0.1 < cut_for(one, one.label.weight_g + 5)
    assert cut_for(found(world, batch, rule="handbook_133"), 600.0) is None


def test_ounces_are_labelled_in_tenths(world: World) -> None:
    world.workshop.unit = "oz"
    batch = foretold(world)
    one = found(world, batch)
    assert one.step_g == pytest.approx(2.8349523125)
    assert round(one.label.weight_g / 2.8349523125, 6) % 1 == 0
    assert one.weight_g <= Decimal(str(one.label.weight_g))


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"rule": "by_thumb"}, "rule", "Choose a rule"),
        ({"wrap": "wool"}, "wrap", "sold in"),
        ({"probability": Decimal("0.5")}, "probability", "how sure"),
        ({"shelf_months": 5}, "shelf_months", "months on the shelf"),
        ({"packed_day": 27}, "packed_on", "old enough: on 2026-03-17 or later"),
        ({"packed_day": 549}, "packed_on", "choose a day before"),
        ({"packed_day": 300, "shelf_months": 12}, "shelf_months", "choose fewer months"),
    ],
)
def test_what_no_label_can_be_worked_out_for_is_refused(world: World, changes: dict[str, Any], field: str, says: str) -> None:
    batch = foretold(world)
    with pytest.raises(Invalid, match=says) as refused:
        found(world, batch, **changes)
    assert refused.value.field == field


def test_without_a_forecast_or_bars_there_is_none(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    with pytest.raises(Conflict, match="no forecast yet"):
        found(world, batch)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    entry = TakeOutEntry(batch.bars_left, "gift", world.now, "a fair")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    with pytest.raises(Conflict, match="no bars on the racks"):
        keep_label(actor=world.actor, batch=batch, asked=asked(batch), at=world.now)


def test_bars_that_are_in_no_table_are_refused_and_not_an_accident(world: World) -> None:
    batch = world.batch(cut_days_ago=21)
    world.weigh_series(batch, {0: "900.0", 7: "860.0", 14: "845.0"})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    with pytest.raises(Invalid, match="choose the other rule"):
        found(world, batch, rule="handbook_133")
    assert found(world, batch).label.weight_g > 489


def test_what_is_kept_says_all_it_was_chosen_by_and_the_newest_counts(world: World) -> None:
    batch = foretold(world)
    first = keep_label(actor=world.actor, batch=batch, asked=asked(batch), at=world.now)
    one = found(world, batch)
    assert (first.weight_g, first.chance, first.bars) == (one.weight_g, one.label.probability, 24)
    assert (first.forecast.fingerprint, first.signed_by) == (one.forecast.fingerprint, world.owner.name)
    second = keep_label(actor=world.actor, batch=batch, asked=asked(batch, shelf_months=12), at=world.now)
    assert second.weight_g < first.weight_g
    assert cure_of(batch).label == second
    assert LabelWeight.objects.within(world.workshop).count() == 2


def test_a_figure_that_was_another_when_it_was_looked_at_is_not_kept(world: World) -> None:
    batch = foretold(world)
    basis = found(world, batch).basis
    world.weigh_series(batch, {21: "118.9"})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    with pytest.raises(DomainError, match="changed since you looked"):
        keep_label(actor=world.actor, batch=batch, asked=asked(batch), seen=basis, at=world.now)
    assert not LabelWeight.objects.within(world.workshop).exists()
    keep_label(actor=world.actor, batch=batch, asked=asked(batch), seen=found(world, batch).basis, at=world.now)


def test_a_forecast_of_lighter_bars_allows_the_label_no_longer(world: World) -> None:
    batch = foretold(world)
    label = keep_label(actor=world.actor, batch=batch, asked=asked(batch), at=world.now)
    cut_on = batch.cut_at.date()
    assert chance_now(label, cure_of(batch).forecast, cut_on) == label.chance
    dries_on(world, batch)
    assert chance_now(label, cure_of(batch).forecast, cut_on) < 0.6
