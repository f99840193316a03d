"""What happens while the house looks what to order, and how long what is on its way keeps."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from curehouse.flows import propose as proposing
from curehouse.flows.propose import propose
from curehouse.flows.reorder_room import Room, read_room
from curehouse.workshops.models import Workshop
from inventory.models import OrderLine
from inventory.services.orders import send_order, write_order
from inventory.services.things import SupplierEntry
from tests.factories import SupplierFactory
from tests.used import used
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("times", [1, 2, 9], ids=["once", "twice", "each time"])
def test_what_a_person_orders_elsewhere_while_it_is_looked_is_not_ordered_a_second_time(
    world: World, monkeypatch: pytest.MonkeyPatch, times: int
) -> None:
    oil = used(world)
    other = SupplierFactory(workshop=world.workshop, entry=SupplierEntry(name="Harbour Oils"))
    elsewhere = world.offer(material=oil.material, supplier=other, pack=Decimal(5000), price=Decimal(60), lead_days=7)
    reads: list[int] = []

    def read_and_order(*, workshop: Workshop, at: datetime) -> Room:
        room = read_room(workshop=workshop, at=at)
        reads.append(1)
        if len(reads) <= times:
            order = write_order(actor=world.actor, supplier=other, packs={elsewhere.pk: 2}, at=world.now)
            send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
        return room

    monkeypatch.setattr(proposing, "read_room", read_and_order)
    assert propose(workshop=world.workshop, at=world.now) == []
    ordered = OrderLine.objects.within(world.workshop).values_list("order__supplier__name", flat=True)
    assert set(ordered) == {"Harbour Oils"}
    assert len(reads) == 2, "it is read once more, and then left to the next look"


def test_what_is_on_its_way_keeps_as_long_as_lots_of_it_did(world: World) -> None:
    oil = used(world)
    for days in (3, 20, 40):
        received = world.now.date() - timedelta(days=days)
        world.lot("10", material=oil.material, days_here=days, best_before=received + timedelta(days=10))
    order = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 2}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    (kept,) = read_room(workshop=world.workshop, at=world.now).kept
    assert [one.life_days for one in (*kept.offers, *kept.coming)] == [10, 10]
