"""A hold is lifted once, by a person, with a reason."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from curehouse.common.errors import Conflict, Forbidden, Invalid, NotHere
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import BatchHold, BatchUse
from curehouse.making.services import lift_hold
from curehouse.workshops.actors import Actor, the_house
from curehouse.workshops.services import give_token
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def hold(world: World) -> BatchHold:
    line = UseLine(world.lot(standing="rejected"), Decimal(60), reason="found out too late")
    (use,) = book_use(actor=world.actor, batch=world.batch(), lines=[line], used_at=world.now, at=world.now)
    return use.hold


def test_it_is_lifted_once_and_stays_on_record(world: World, hold: BatchHold) -> None:
    lift_hold(actor=world.actor, hold=hold, why="tested, in order", at=world.now)
    with pytest.raises(Conflict, match="lifted already"):
        lift_hold(actor=world.actor, hold=hold, why="again", at=world.now)
    assert (hold.lift.why, hold.lift.signed_by) == ("tested, in order", "Ottilie Brandt")
    assert not BatchHold.objects.within(world.workshop).standing().exists()


def test_a_device_and_the_house_itself_lift_none(world: World, hold: BatchHold) -> None:
    device, _secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)
    for actor in (Actor(workshop=world.workshop, device=device), the_house(world.workshop)):
        with pytest.raises(Forbidden):
            lift_hold(actor=actor, hold=hold, why="fine", at=world.now)


@pytest.mark.parametrize("why", ["", "  ", "x" * 401])
def test_a_reason_is_wanted(world: World, hold: BatchHold, why: str) -> None:
    with pytest.raises(Invalid) as refused:
        lift_hold(actor=world.actor, hold=hold, why=why, at=world.now)
    assert refused.value.field == "why"


def test_a_stranger_lifts_none(world: World, stranger: World, hold: BatchHold) -> None:
    with pytest.raises(NotHere):
        lift_hold(actor=stranger.actor, hold=hold, why="fine", at=world.now)


def test_the_database_itself_wants_the_reason_of_an_irregular_use(world: World, hold: BatchHold) -> None:
    movement = world.lot().movements.get()
    with pytest.raises(IntegrityError, match="batchuse_irregular_why"), transaction.atomic():
        BatchUse(
            workshop=world.workshop, batch=hold.batch, movement=movement, irregular="expired", written_at=world.now
        ).save()  # fmt: skip
