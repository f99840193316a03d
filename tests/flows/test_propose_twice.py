"""What the house must not write: what came in already, what was sent, put off or called off meanwhile."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.morning import begin_day
from curehouse.flows.orders import send_order as send
from curehouse.flows.propose import propose, propose_now
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.flows.reorder_room import read_room
from curehouse.flows.take_off import put_off
from curehouse.notices.models import Notice
from inventory.models import Proposal
from inventory.services.orders import call_off, write_order
from inventory.services.things import SupplierEntry
from tests.factories import SupplierFactory
from tests.used import used
from tests.world import World

pytestmark = pytest.mark.django_db


def test_what_came_in_and_waits_in_quarantine_is_not_ordered_again(world: World) -> None:
    used(world)
    (order,) = propose(workshop=world.workshop, at=world.now)
    day = world.now.date()
    send(actor=world.actor, order=order, sent_on=day, at=world.now)
    line = order.lines.get()
    came = [LineCame(line=line.pk, lots=[LotCame(packs=line.packs)])]
    receive_order(actor=world.actor, order=order, received_on=day, came=came, at=world.now)
    assert propose(workshop=world.workshop, at=world.now) == []


def test_what_was_put_off_stands_no_longer_beside_the_order_nor_in_its_notice(world: World) -> None:
    oil = used(world)
    used(world, "Coconut oil", left="100")
    (order,) = propose_now(actor=world.actor, at=world.now)
    until = world.now.date() + timedelta(days=14)
    put_off(actor=world.actor, material=oil.material, until=until, why="Another mill.", at=world.now)
    notice = Notice.objects.within(world.workshop).of_kind("order_decide").get()
    kept = Proposal.objects.within(world.workshop).get(order=order)
    assert "Olive oil" not in notice.body
    assert oil.material_id not in [one["material"] for one in kept.lines]


def test_an_order_sent_while_the_morning_worked_is_not_written_again(world: World, monkeypatch) -> None:
    used(world)
    (order,) = propose(workshop=world.workshop, at=world.now)
    room = read_room(workshop=world.workshop, at=world.now)
    send(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    monkeypatch.setattr("curehouse.flows.propose.read_room", lambda **_: room)
    assert propose(workshop=world.workshop, at=world.now) == []


def test_put_off_while_the_morning_worked_holds(world: World, monkeypatch) -> None:
    oil = used(world)
    room = read_room(workshop=world.workshop, at=world.now)
    put_off(actor=world.actor, material=oil.material, until=world.now.date() + timedelta(days=9), why="no", at=world.now)
    monkeypatch.setattr("curehouse.flows.propose.read_room", lambda **_: room)
    assert propose(workshop=world.workshop, at=world.now) == []


def test_what_a_person_wrote_with_another_supplier_is_not_written_a_second_time(world: World) -> None:
    oil = used(world)
    other = SupplierFactory(workshop=world.workshop, entry=SupplierEntry(name="Harbour Oils"))
    dear = world.offer(material=oil.material, supplier=other, pack=Decimal(5000), price=Decimal(60), lead_days=7)
    mine = write_order(actor=world.actor, supplier=other, packs={dear.pk: 2}, at=world.now)
    assert propose(workshop=world.workshop, at=world.now) == [mine]


def test_an_order_a_person_called_off_is_not_written_again_the_next_morning(world: World) -> None:
    used(world)
    (order,) = propose(workshop=world.workshop, at=world.now)
    call_off(actor=world.actor, order=order, why="I do not want it.", at=world.now)
    assert propose(workshop=world.workshop, at=world.now + timedelta(days=1)) == []


def test_one_odd_material_fails_no_morning(world: World, monkeypatch) -> None:
    used(world)

    def boom(*_a, **_k):
        raise ValueError("an order that took 4000 days")

    monkeypatch.setattr("curehouse.flows.propose.look_tonight", boom)
    assert begin_day(workshop_id=world.workshop.pk, at=world.now) is not None
