"""What is planned of other materials, or long from now, keeps nothing from being ordered that may run out before."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.propose import look_tonight, propose
from curehouse.flows.reorder_room import read_room
from curehouse.flows.stock_ahead import stock_ahead
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run
from inventory.models import Offer, OrderLine
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.used import used
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def sunflower(world: World) -> Offer:
    """Return an offer of sunflower oil: a kilogram every twenty days, 900 g left, a week until more has come."""
    return used(world, "Sunflower oil", left="900")


@pytest.fixture
def castile(world: World) -> FormulaVersion:
    """Return a soap of olive and coconut oil, of both of which there is plenty."""
    olive, coconut = (
        world.lot("50000", material=world.material(name, kind="fat")).material for name in ("Olive oil", "Coconut oil")
    )
    lines = (fat("olive", "700", material=olive), fat("coconut", "300", material=coconut), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


def plan(world: World, version: FormulaVersion, *days: int) -> None:
    for day in days:
        pour_on = world.now.date() + timedelta(days=day)
        plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=pour_on, at=world.now)


def risk(world: World, offer: Offer) -> float:
    room = read_room(workshop=world.workshop, at=world.now)
    return next(one.risk for one in look_tonight(room).watched if one.kept.key == str(offer.material_id))


def test_runs_of_other_materials_keep_nothing_from_being_ordered(
    world: World, sunflower: Offer, castile: FormulaVersion
) -> None:
    without = risk(world, sunflower)
    assert without > 0.2
    plan(world, castile, 58, 60)
    assert risk(world, sunflower) == pytest.approx(without)
    (order,) = propose(workshop=world.workshop, at=world.now)
    lines = OrderLine.objects.within(world.workshop).filter(order=order)
    assert dict(lines.values_list("material__name", "packs")) == {"Sunflower oil": 2}


def test_a_material_s_own_runs_of_months_ahead_leave_the_weeks_before_as_they_are(world: World, sunflower: Offer) -> None:
    oil = sunflower.material
    version = write_formula(
        actor=world.actor, entry=formula_entry(lines=(fat("sunflower", "1000", material=oil), *LIQUIDS)), at=world.now
    )
    without, before = risk(world, sunflower), stock_ahead(material=oil, at=world.now)
    plan(world, version, 55, 57, 58, 60)
    assert risk(world, sunflower) == pytest.approx(without)
    after = stock_ahead(material=oil, at=world.now)
    assert [day.unplanned for day in after.days[:54]] == [day.unplanned for day in before.days[:54]]
    assert sum(day.unplanned for day in after.days[:54]) > 0
    assert after.use.planned_to is None
