"""A weight that was asked about is weighed again, and held against what was foretold before the first look."""

from decimal import Decimal

import pytest

from curehouse.core.cure.expected import Expected
from curehouse.curing.doubts import beside, expected_for, without
from curehouse.curing.models import Cure, Reading
from curehouse.flows.foretell import foretell_wanting
from curehouse.flows.weigh import correct
from curehouse.making.models import Batch
from tests.flows.test_foretell import cured
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch(world: World) -> Batch:
    """Return a batch that was weighed up to last week, and foretold."""
    batch = cured(world, days_ago=28, last=21)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    return batch


def expected(world: World, batch: Batch) -> Expected:
    found = expected_for(beside(world.bar(batch)), moment=world.now, scale=world.scale)
    assert found is not None
    return found


def doubted(world: World, batch: Batch) -> Reading:
    """Weigh bar A ten grams too heavy."""
    reading = world.weigh(world.bar(batch), f"{expected(world, batch).high_g + 10:.1f}", moment=world.now)
    assert reading.doubt
    return reading


def again(world: World, reading: Reading, weight_g: float) -> Reading:
    entry = world.reading_entry(f"{weight_g:.1f}", moment=world.now)
    return correct(actor=world.actor, reading=reading, entry=entry, at=world.now)[0]


def just_too_heavy(world: World, batch: Batch, reading: Reading, by_forecast: Expected) -> float:
    """Return a weight that a forecast does not allow and a plain look at how the batch dries does."""
    Cure.objects.within(world.workshop).filter(batch=batch).update(forecast_wanted_at=world.now)
    bar = world.bar(batch)
    plain = expected_for(beside(bar), moment=world.now, scale=world.scale)
    weight_g = by_forecast.high_g + by_forecast.slack_g + 0.2
    assert plain is not None and not by_forecast.allows(weight_g)
    assert plain.allows(weight_g), (plain, weight_g)
    return weight_g


@pytest.mark.parametrize("is_foretold_anew", [True, False])
def test_what_the_forecast_does_not_allow_is_asked_about_again(world: World, batch: Batch, is_foretold_anew: bool) -> None:
    by_forecast = expected(world, batch)
    reading = doubted(world, batch)
    if is_foretold_anew:
        foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    weight_g = just_too_heavy(world, batch, reading, by_forecast)
    assert again(world, reading, weight_g).doubt
    newest = Reading.objects.within(world.workshop).order_by("-pk")[0]
    assert not again(world, newest, by_forecast.middle_g).doubt


def test_it_is_the_forecast_of_before_the_first_look_and_not_one_that_believes_it(world: World, batch: Batch) -> None:
    was = expected(world, batch)
    reading = doubted(world, batch)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    around = without(beside(world.bar(batch)), reading, moment=world.now)
    assert around.own.foretold is not None
    assert around.own.foretold.as_of_day == pytest.approx(21, abs=0.1)
    assert expected_for(around, moment=world.now, scale=world.scale) == was


def test_what_rests_on_a_weight_that_was_put_right_since_is_held_against_nothing(world: World, batch: Batch) -> None:
    reading = doubted(world, batch)
    earlier = Reading.objects.within(world.workshop).filter(bar=world.bar(batch)).order_by("moment")[1]
    entry = world.reading_entry(f"{earlier.weight_g + Decimal('0.3')}", moment=earlier.moment)
    later = world.now.replace(minute=5)
    correct(actor=world.actor, reading=earlier, entry=entry, at=later)
    assert without(beside(world.bar(batch)), reading, moment=world.now).own.foretold is None
