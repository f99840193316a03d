"""The order the house wrote, as a maker meets it: why each line stands there, looked for now, put off."""

from datetime import timedelta

import pytest

from curehouse.flows.propose import propose_now
from curehouse.workshops.models import Member
from inventory.models import Offer, Order, PutOff
from inventory.services.orders import write_order
from tests.used import used
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def oil(world: World) -> Offer:
    return used(world)


def test_looking_now_writes_the_order_and_its_page_says_why(world: World, visitor: Visitor, oil: Offer) -> None:
    assert visitor.post("orders_propose").url == "/orders/"
    order = Order.objects.within(world.workshop).get()
    assert "1 order to decide." in visitor.words("orders")
    words = visitor.words("order", order.pk)
    for said in (
        "The house wrote this order", "decide today", "Nothing is sent by itself", "2 packs of 5 kg",
        "it will not be enough with a chance of", "No delivery seen yet, 7 days as they say", "No run that takes it is planned",
        "300 g", "Not now",
    ):  # fmt: skip
        assert said in words, said


def test_where_there_is_enough_it_says_so(world: World, visitor: Visitor) -> None:
    used(world, left="20000")
    visitor.post("orders_propose")
    assert "Nothing needs to be ordered now." in visitor.words("orders")


def test_an_order_of_a_person_says_what_the_house_would_order(world: World, visitor: Visitor, oil: Offer) -> None:
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 7}, at=world.now)
    visitor.post("orders_propose")
    words = visitor.words("order", mine.pk)
    assert "The house would order this" in words
    assert "7 × 5000 g" in words


def test_not_now_is_a_day_and_a_reason(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    refused = visitor.post("material_put_off", oil.material_id, until="2026-03-20", why="")
    assert refused.status_code == 200
    assert not PutOff.objects.within(world.workshop).exists()
    answer = visitor.post("material_put_off", oil.material_id, until="2026-03-20", why="Another mill next month")
    assert answer.url == "/orders/"
    assert "Olive oil is not proposed before" in visitor.words("orders")
    assert PutOff.objects.within(world.workshop).get().until == world.now.date() + timedelta(days=10)
    assert Order.objects.within(world.workshop).get().state == "called_off"


def test_whoever_may_not_make_sees_why_and_decides_nothing(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    order = Order.objects.within(world.workshop).get()
    Member.objects.within(world.workshop).update(role="helper")
    words = visitor.words("order", order.pk)
    assert "The house wrote this order" in words
    assert "Not now" not in words
    assert "Look now" not in visitor.words("orders")
