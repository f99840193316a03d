"""What is sold otherwise from now on, or by nobody any more, while an order of it is written."""

from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest

from curehouse.flows.propose import propose_now
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.flows.take_off import change_offer, retire_supplier
from curehouse.notices.models import Notice
from curehouse.workshops.actors import the_house
from inventory.models import Offer, Order, OrderLine, Proposal
from inventory.services.offers import OfferEntry, end_offer, write_offer
from inventory.services.orders import send_order, write_order
from tests.used import used
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    monkeypatch.setattr("api.views.timezone", SimpleNamespace(now=lambda: world.now))
    return Visitor(world)


@pytest.fixture
def oil(world: World) -> Offer:
    return used(world)


def entry(offer: Offer, *, pack: str = "5000", price: str = "44", min_packs: int = 1) -> OfferEntry:
    return OfferEntry(offer.supplier, offer.material, Decimal(pack), Decimal(price), lead_days=7, min_packs=min_packs)


def asked(order: Order) -> dict[str, tuple[int, Decimal, Decimal]]:
    lines = OrderLine.objects.within(order.workshop).filter(order=order)
    return {line.material.name: (line.packs, line.pack, line.price) for line in lines.named()}


def open_notices(world: World) -> list[Notice]:
    return list(Notice.objects.within(world.workshop).of_kind("order_decide").filter(state="open"))


def test_another_price_of_the_same_pack_stands_on_the_order_of_the_house_at_once(world: World, oil: Offer) -> None:
    (order,) = propose_now(actor=world.actor, at=world.now)
    packs = asked(order)["Olive oil"][0]
    new = change_offer(actor=world.actor, offer=oil, entry=entry(oil), at=world.now)
    assert asked(order) == {"Olive oil": (packs, Decimal(5000), Decimal(44))}
    (line,) = Proposal.objects.within(world.workshop).get(order=order).lines
    assert (line["offer"], line["packs"]) == (new.pk, packs)
    assert len(open_notices(world)) == 1


def test_no_fewer_packs_are_asked_for_than_are_sold_at_once_now(world: World, oil: Offer) -> None:
    (order,) = propose_now(actor=world.actor, at=world.now)
    more = asked(order)["Olive oil"][0] + 3
    change_offer(actor=world.actor, offer=oil, entry=entry(oil, min_packs=more), at=world.now)
    assert asked(order)["Olive oil"][0] == more
    assert Proposal.objects.within(world.workshop).get(order=order).lines[0]["packs"] == more


def test_another_pack_comes_off_the_order_of_the_house_until_it_is_looked_at_anew(world: World, oil: Offer) -> None:
    used(world, "Coconut oil", left="100")
    (order,) = propose_now(actor=world.actor, at=world.now)
    change_offer(actor=world.actor, offer=oil, entry=entry(oil, pack="1000"), at=world.now)
    assert asked(order).keys() == {"Coconut oil"}
    assert "Olive oil" not in open_notices(world)[0].body
    propose_now(actor=world.actor, at=world.now)
    assert asked(order)["Olive oil"][1] == 1000


def test_what_a_receipt_says_it_costs_now_stands_on_the_order_that_is_written(world: World, oil: Offer) -> None:
    sent = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 1}, at=world.now)
    day = world.now.date() - timedelta(days=9)
    send_order(actor=world.actor, order=sent, sent_on=day, at=world.now)
    small = write_offer(actor=world.actor, entry=entry(oil, pack="250"), at=world.now)
    order = write_order(actor=the_house(world.workshop), supplier=oil.supplier, packs={oil.pk: 1, small.pk: 1}, at=world.now)
    came = [LineCame(line=sent.lines.get().pk, lots=[LotCame(packs=1)], price=Decimal("47.50"), changes_offer=True)]
    receive_order(actor=world.actor, order=sent, received_on=day + timedelta(days=7), came=came, at=world.now)
    prices = OrderLine.objects.within(world.workshop).filter(order=order, material=oil.material).values_list("pack", "price")
    assert dict(prices) == {Decimal(5000): Decimal("47.5"), Decimal(250): Decimal(44)}


def test_the_order_of_the_house_with_whoever_is_out_of_use_is_called_off_at_once(
    world: World, visitor: Visitor, oil: Offer
) -> None:
    (order,) = propose_now(actor=world.actor, at=world.now)
    visitor.post("supplier_retire", oil.supplier_id)
    order.refresh_from_db()
    assert order.state == "called_off"
    assert order.steps.order_by("pk").last().said == "Brook Mill is out of use."
    assert open_notices(world) == []
    assert not Proposal.objects.within(world.workshop).undecided().exists()


def test_an_order_of_a_person_stays_and_says_what_is_sold_no_more(world: World, visitor: Visitor, oil: Offer) -> None:
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 2}, at=world.now)
    propose_now(actor=world.actor, at=world.now)
    assert "not sold so any more" not in visitor.words("order", mine.pk)
    visitor.post("offer", oil.pk, pack="5", unit="kg", price="44", min_packs="1")
    assert asked(mine) == {"Olive oil": (2, Decimal(5000), Decimal(40))}
    assert "It is not sold so any more: ask for what is sold now, or for none." in visitor.words("order", mine.pk)
    retire_supplier(actor=world.actor, supplier=oil.supplier, at=world.now)
    mine.refresh_from_db()
    assert mine.state == "written"
    assert "Brook Mill is out of use: put them into use again, or call this off." in visitor.words("order", mine.pk)


def test_what_was_sent_says_nothing_of_what_is_sold_now(world: World, visitor: Visitor, oil: Offer) -> None:
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 2}, at=world.now)
    send_order(actor=world.actor, order=mine, sent_on=world.now.date(), at=world.now)
    end_offer(actor=world.actor, offer=oil, at=world.now)
    assert "not sold so any more" not in visitor.words("order", mine.pk)
