"""Orders the house writes by itself: what they hold and why, what a person's hand in one changes, what is put off."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.common.errors import Invalid
from curehouse.flows.morning import begin_day
from curehouse.flows.orders import send_order as send
from curehouse.flows.propose import NO_LONGER, propose, propose_now
from curehouse.flows.reorder_room import read_room
from curehouse.flows.take_off import put_off
from curehouse.notices.models import Notice
from inventory.models import MOST_PACKS, Lot, Material, Offer, Order, OrderLine, OrderStep, Proposal, PutOff
from inventory.services.offers import end_offer
from inventory.services.orders import call_off, send_order, write_order
from inventory.services.things import SupplierEntry
from tests.factories import SupplierFactory
from tests.used import EVERY, USES, used
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def oil(world: World) -> Offer:
    """Return an offer of olive oil, of which little is left."""
    return used(world)


def packs_of(order: Order) -> dict[str, int]:
    return dict(OrderLine.objects.within(order.workshop).filter(order=order).values_list("material__name", "packs"))


def proposed(world: World, at: Any = None) -> list[Order]:
    return propose(workshop=world.workshop, at=at or world.now)


def test_what_may_run_out_is_written_as_an_order_and_is_not_sent(world: World, oil: Offer) -> None:
    (order,) = proposed(world)
    assert (order.state, order.supplier, order.sent_on) == ("written", oil.supplier, None)
    assert packs_of(order) == {"Olive oil": 2}
    assert order.steps.get().by_user is None
    kept = Proposal.objects.within(world.workshop).get(order=order)
    (line,) = kept.lines
    assert (line["material"], line["offer"], line["packs"], line["because"]) == (oil.material_id, oil.pk, 2, "due")
    assert line["why"]["risk"] > max(line["why"]["risk_accepted"], line["why"]["risk_after"])
    assert line["why"]["here"] == 300
    assert kept.decide_by == kept.day == world.now.date()


def test_where_there_is_enough_nothing_is_written(world: World) -> None:
    used(world, "Olive oil", left="20000")
    assert proposed(world) == []
    assert not Order.objects.within(world.workshop).exists()


def test_asked_again_it_says_the_same_and_writes_nothing_more(world: World, oil: Offer) -> None:
    (first,), (second,) = proposed(world), proposed(world)
    assert first == second
    assert OrderStep.objects.within(world.workshop).count() == 1


def test_what_changed_changes_the_order_of_the_house(world: World, oil: Offer) -> None:
    (order,) = proposed(world)
    used(world, "Coconut oil", left="100")
    (same,) = proposed(world)
    assert same == order
    assert packs_of(order).keys() == {"Olive oil", "Coconut oil"}
    world.lot("30000", material=oil.material)
    proposed(world)
    assert packs_of(order).keys() == {"Coconut oil"}


def test_what_is_not_needed_any_more_is_called_off_and_says_so(world: World, oil: Offer) -> None:
    (order,) = proposed(world)
    world.lot("30000", material=oil.material)
    assert proposed(world) == []
    order.refresh_from_db()
    assert order.state == "called_off"
    assert order.steps.order_by("pk").last().said == NO_LONGER


def test_an_order_a_person_wrote_or_changed_stays_as_it_is_and_the_house_says_what_it_would_do(
    world: World, oil: Offer
) -> None:
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 7}, at=world.now)
    assert proposed(world) == [mine]
    assert packs_of(mine) == {"Olive oil": 7}
    assert Proposal.objects.within(world.workshop).get(order=mine).lines[0]["packs"] == 2
    world.lot("30000", material=oil.material)
    assert proposed(world) == [mine]
    assert not Proposal.objects.within(world.workshop).exists()


def test_what_was_sent_is_on_its_way_and_is_not_ordered_twice(world: World, oil: Offer) -> None:
    (order,) = proposed(world)
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    assert proposed(world) == []
    assert Proposal.objects.within(world.workshop).get(order=order).lines
    call_off(actor=world.actor, order=order, why="They have none.", at=world.now)
    assert [one.pk for one in proposed(world)] != [order.pk]


def test_not_now_takes_it_off_until_its_day_and_is_remembered(world: World, oil: Offer) -> None:
    coconut = used(world, "Coconut oil", left="100")
    (order,) = proposed(world)
    until = world.now.date() + timedelta(days=14)
    put_off(actor=world.actor, material=oil.material, until=until, why="Another mill next month.", at=world.now)
    assert packs_of(order).keys() == {"Coconut oil"}
    assert [packs_of(one).keys() for one in proposed(world)] == [{"Coconut oil"}]
    put_off(actor=world.actor, material=coconut.material, until=until, why="None is sold.", at=world.now)
    order.refresh_from_db()
    assert order.state == "called_off"
    assert proposed(world) == []
    (again,) = proposed(world, world.now + timedelta(days=14))
    assert packs_of(again).keys() == {"Olive oil", "Coconut oil"}
    assert PutOff.objects.within(world.workshop).newest_first()[1].why == "Another mill next month."


def test_not_now_leaves_an_order_of_a_person_alone(world: World, oil: Offer) -> None:
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 2}, at=world.now)
    until = world.now.date() + timedelta(days=3)
    put_off(actor=world.actor, material=oil.material, until=until, why="Not yet.", at=world.now)
    assert packs_of(mine) == {"Olive oil": 2}


@pytest.mark.parametrize(("days", "why", "field"), [(0, "x", "until"), (400, "x", "until"), (3, " ", "why")])
def test_not_now_says_until_when_and_why(world: World, oil: Offer, days: int, why: str, field: str) -> None:
    with pytest.raises(Invalid) as caught:
        put_off(
            actor=world.actor, material=oil.material, until=world.now.date() + timedelta(days=days), why=why, at=world.now
        )  # fmt: skip
    assert caught.value.field == field
    assert not PutOff.objects.within(world.workshop).exists()


def test_an_offer_that_has_ended_is_not_ordered(world: World, oil: Offer) -> None:
    end_offer(actor=world.actor, offer=oil, at=world.now)
    assert proposed(world) == []


def test_of_the_smallest_packs_no_more_are_asked_for_than_an_order_takes(world: World) -> None:
    used(world, left="0.001", pack=Decimal("0.5"), price=Decimal("0.01"))
    (order,) = proposed(world)
    assert packs_of(order) == {"Olive oil": MOST_PACKS}


def test_a_supplier_whose_order_is_refused_keeps_no_other_from_theirs(
    world: World, oil: Offer, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = SupplierFactory(workshop=world.workshop, entry=SupplierEntry(name="Harbour Oils"))
    used(world, "Coconut oil", left="100", supplier=other)
    room = read_room(workshop=world.workshop, at=world.now)
    end_offer(actor=world.actor, offer=oil, at=world.now)
    monkeypatch.setattr("curehouse.flows.propose.read_room", lambda **_: room)
    assert [packs_of(one).keys() for one in proposed(world)] == [{"Coconut oil"}]


def test_each_supplier_has_an_order_of_its_own(world: World, oil: Offer) -> None:
    other = SupplierFactory(workshop=world.workshop, entry=SupplierEntry(name="Harbour Oils"))
    used(world, "Coconut oil", left="100", supplier=other)
    assert [packs_of(one).keys() for one in proposed(world)] == [{"Olive oil"}, {"Coconut oil"}]


def test_the_morning_writes_them(world: World, oil: Offer) -> None:
    assert begin_day(workshop_id=world.workshop.pk, at=world.now) is not None
    assert Order.objects.within(world.workshop).written().count() == 1


def test_what_is_read_is_the_past_what_is_here_and_who_sells_it(world: World, oil: Offer) -> None:
    room = read_room(workshop=world.workshop, at=world.now)
    (kept,) = room.kept
    assert len(kept.uses) == USES
    assert {one.quantity for one in kept.uses} == {1000}
    assert (kept.known_days, kept.lots[0].quantity, kept.offers[0].pack) == (EVERY * USES + 11, 300, 5000)
    assert 5 <= kept.offers[0].lead.within(0.5) <= 7
    assert len(room.past.announced) == 0, "of no run is it known how long before its day it was planned"


def test_as_many_queries_however_much_there_is(world: World, oil: Offer) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            read_room(workshop=world.workshop, at=world.now)
        return len(caught)

    before = queries()
    for name in ("Coconut oil", "Shea butter"):
        used(world, name, left="100")
    assert queries() == before <= 20


def test_what_is_not_bought_any_more_is_left_alone(world: World, oil: Offer) -> None:
    Material.unscoped.filter(pk=oil.material_id).update(retired_at=world.now)
    assert read_room(workshop=world.workshop, at=world.now).kept == []
    assert Lot.objects.within(world.workshop).exists()


def told(world: World) -> list[Notice]:
    return list(Notice.objects.within(world.workshop).of_kind("order_decide").order_by("pk"))


def test_the_morning_tells_what_is_to_be_decided_and_by_when_until_it_is(world: World, oil: Offer) -> None:
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    (notice,) = told(world)
    order = Order.objects.within(world.workshop).get()
    assert (notice.state, notice.path) == ("open", f"/orders/{order.pk}/")
    assert notice.body.startswith("Olive oil.\nDecide today")
    send(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    (notice,) = told(world)
    assert (notice.state, notice.closed_why) == ("withdrawn", "It is sent.")


def test_what_is_not_needed_any_more_is_not_to_be_decided(world: World, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    world.lot("30000", material=oil.material)
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    (notice,) = told(world)
    assert (notice.state, notice.closed_why) == ("withdrawn", "It is called off.")


def test_what_is_put_off_is_decided(world: World, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    until = world.now.date() + timedelta(days=9)
    put_off(actor=world.actor, material=oil.material, until=until, why="Enough for now.", at=world.now)
    assert [one.state for one in told(world)] == ["withdrawn"]


def test_a_day_later_it_says_the_day_as_it_is_then_and_is_told_once(world: World, oil: Offer) -> None:
    used(world, "Coconut oil", left="3500")
    for days in range(3):
        begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=days))
    assert len(told(world)) == 1
