"""The database's refusals, answered in words; on whichever database the tests run."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Invalid
from curehouse.curing.models import Position, Rack
from curehouse.workshops.models import Scale
from tests.world import World

ANSWER = Invalid("answered", "Said in words.", field="it")


def test_a_unique_constraint_is_answered(world: World) -> None:
    with pytest.raises(Invalid) as refused, answered(Scale, {"scale_name_once": ANSWER}):
        Scale.unscoped.create(workshop=world.workshop, name=world.scale.name, step_g=1)
    assert refused.value is ANSWER
    assert isinstance(refused.value.__cause__, IntegrityError)


def test_a_check_constraint_is_answered(world: World) -> None:
    with pytest.raises(Invalid), answered(Scale, {"scale_step_positive": ANSWER}):
        Scale.unscoped.create(workshop=world.workshop, name="Bench scale", step_g=0)


def test_the_work_before_the_block_survives_its_refusal(world: World) -> None:
    with transaction.atomic():
        kept = world.rack("South wall")
        with pytest.raises(Invalid), answered(Rack, {"rack_name_once": ANSWER}):
            Rack.unscoped.create(workshop=world.workshop, name="South wall")
    assert list(Rack.objects.within(world.workshop)) == [kept]


def test_a_constraint_nobody_answers_stays_the_databases_own_error(world: World) -> None:
    with pytest.raises(IntegrityError), answered(Scale, {"scale_name_once": ANSWER}):
        Scale.unscoped.create(workshop=world.workshop, name="Bench scale", step_g=0)


def test_a_refusal_is_not_taken_for_another_of_the_same_table(world: World) -> None:
    rack = world.rack()
    position = world.position(rack)
    with pytest.raises(IntegrityError), answered(Position, {"position_capacity": ANSWER}):
        Position.unscoped.create(
            workshop=world.workshop, rack=rack, level=position.level, place=position.place, capacity_bars=1
        )


def test_a_block_that_breaks_nothing_is_left_alone(world: World) -> None:
    with answered(Scale, {"scale_step_positive": ANSWER}):
        made = Scale.unscoped.create(workshop=world.workshop, name="Bench scale", step_g=Decimal("0.01"))
    assert Scale.objects.within(world.workshop).contains(made)
