"""What would come by orders that are not sent stands on a material's page beside what will be here, and in none of its sums."""

import html
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.propose import propose_now
from curehouse.flows.stock_ahead import stock_ahead
from curehouse.flows.take_off import put_off
from inventory.models import Material, Offer, Order, Proposal
from inventory.services.orders import send_order, write_order
from tests.api.device import Device
from tests.used import used
from tests.web.test_lists import as_csv
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def oil(world: World) -> Offer:
    return used(world)


def section(visitor: Visitor, material: Material) -> str:
    return html.unescape(visitor.words("material", material.pk)).split("What will be here", 1)[1]


def figures(world: World, material: Material) -> list[tuple[float, ...]]:
    days = stock_ahead(material=material, at=world.now).days
    return [(one.left, one.low, one.high, one.planned_left, one.came) for one in days]


def test_an_order_the_house_wrote_is_a_mark_with_its_condition_and_moves_no_figure(
    world: World, visitor: Visitor, oil: Offer
) -> None:
    before = figures(world, oil.material)
    propose_now(actor=world.actor, at=world.now)
    said = "f Order 1, Brook Mill is sent today: +\u00a02 packs (10 kg) about Mon 16 Mar".replace("\u00a0", " ")
    words = section(visitor, oil.material).replace("\u00a0", " ")
    assert "Not sent, so not counted Order 1, Brook Mill If it is sent today: + 2 packs (10 kg) about Mon 16 Mar" in words
    page = html.unescape(visitor.get("material", oil.material_id).content.decode()).replace("\u00a0", " ")
    assert page.count("stock-draft") == 1
    assert f"<title>i{said}</title>" in page
    assert f"; not counted: i{said}" in page, "the cursor says it on that day"
    assert figures(world, oil.material) == before


def test_a_later_day_to_decide_moves_what_would_come(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    Proposal.unscoped.update(decide_by=world.now.date() + timedelta(days=4))
    assert "is sent by Sat 14 Mar" in section(visitor, oil.material)
    assert "about Fri 20 Mar" in section(visitor, oil.material)


def test_what_a_person_wrote_stands_beside_what_the_house_would_order(world: World, visitor: Visitor, oil: Offer) -> None:
    write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 7}, at=world.now)
    propose_now(actor=world.actor, at=world.now)
    words = section(visitor, oil.material).replace("\u00a0", " ")
    assert "If it is sent today: + 7 packs (35 kg) about Mon 16 Mar +35 kg ✎ written" in words
    assert "is sent today as the house would order: + 2 packs (10 kg)" in words
    assert sum(one.if_sent for one in stock_ahead(material=oil.material, at=world.now).days) == 35000


def test_once_sent_it_is_on_its_way_and_no_draft(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    order = Order.objects.within(world.workshop).get()
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    words = section(visitor, oil.material)
    assert "Not sent, so not counted" not in words
    assert "10 kg come" in words


def test_where_nobody_knows_how_long_it_takes_it_is_said_and_not_drawn(world: World, visitor: Visitor) -> None:
    offer = world.offer(material=world.material("Sage"), pack=Decimal(100), lead_days=None)
    write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    words = section(visitor, offer.material).replace("\u00a0", " ")
    assert "If it is sent today: + 1 pack (100 g) nobody knows when" in words
    assert b"stock-draft" not in visitor.get("material", offer.material_id).content


def test_list_and_api_have_it_apart(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    told = Device(world).get(f"materials/{oil.material_id}/ahead/").json()
    order = Order.objects.within(world.workshop).get()
    assert told["drafts"] == [
        {
            "order": order.pk, "order_name": "Order 1, Brook Mill", "packs": 2, "amount": 10000.0, "send_by": "2026-03-10",
            "day": "2026-03-16", "is_written": True,
        }
    ]  # fmt: skip
    assert {day["day"]: day["if_sent"] for day in told["days"] if day["if_sent"]} == {"2026-03-16": 10000.0}
    assert all(day["came"] == 0 for day in told["days"])
    headers, *rows = as_csv(visitor, "material_ahead", oil.material_id)
    (row,) = [one for one in rows if one[1] == "2026-03-16"]
    assert dict(zip(headers, row, strict=True))["If sent"] == "10000"
    assert "not counted: if Order 1, Brook Mill is sent today" in row[-1]


def test_the_page_says_why_in_short_and_leads_to_the_order_or_says_until_when_it_is_put_off(
    world: World, visitor: Visitor, oil: Offer
) -> None:
    propose_now(actor=world.actor, at=world.now)
    order = Order.objects.within(world.workshop).get()
    words = visitor.words("material", oil.material_id)
    assert "To order with Order 1, Brook Mill : decide today. If nothing is ordered now, it will not be enough" in words
    assert "counted for that as if" not in words
    world.lot("100", material=oil.material, standing="quarantine")
    assert "What waits in quarantine is counted for that as if it were released." in visitor.words("material", oil.material_id)
    assert f'<a href="/orders/{order.pk}/#why">' in visitor.get("material", oil.material_id).content.decode()
    until = world.now.date() + timedelta(days=9)
    put_off(actor=world.actor, material=oil.material, until=until, why="Another mill.", at=world.now)
    words = visitor.words("material", oil.material_id)
    assert "Put off, not before Thu 19 Mar: Another mill. " in words
    assert "To order with" not in words
    assert "Not sent, so not counted" not in words


def test_the_drafts_of_the_house_next_door_are_not_ours(world: World, stranger: World, visitor: Visitor, oil: Offer) -> None:
    used(stranger)
    propose_now(actor=stranger.actor, at=world.now)
    assert stock_ahead(material=oil.material, at=world.now).drafts == []
