"""What lists, Today and a material's page say of ordering: until when to decide, or until when it is put off and why."""

import csv
import io
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.http import HttpResponse

from curehouse.flows.propose import propose_now
from curehouse.flows.take_off import put_off
from inventory.models import Offer, Proposal
from tests.api.device import Device
from tests.used import used
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
NAME = "Order 1, Brook Mill"


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    monkeypatch.setattr("api.views.timezone", SimpleNamespace(now=lambda: world.now))
    return Visitor(world)


@pytest.fixture
def oil(world: World) -> Offer:
    """A material that is to be ordered, beside one of which there is enough and one that nobody uses."""
    world.material("Sage")
    used(world, "Coconut oil", left="20000")
    return used(world)


def lines(answer: HttpResponse) -> list[dict[str, str]]:
    text = b"".join(answer.streaming_content).decode("utf-8-sig") if answer.streaming else answer.content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def put_oil_off(world: World, oil: Offer) -> None:
    until = world.now.date() + timedelta(days=9)
    put_off(actor=world.actor, material=oil.material, until=until, why="Another mill next month", at=world.now)


def test_what_waits_on_an_order_says_by_when_to_decide(world: World, visitor: Visitor, oil: Offer) -> None:
    assert "to order" not in visitor.words("storeroom").replace("To order", "")
    propose_now(actor=world.actor, at=world.now)
    assert f"{NAME}: decide today 300 g ▼ to order" in visitor.words("storeroom")
    shown = visitor.words("storeroom", query="?show=order").split("What is here")[1]
    assert "Olive oil" in shown
    assert "Coconut oil" not in shown
    assert "▼ to order" in visitor.words("material", oil.material_id)
    today = visitor.words("today")
    assert f"{NAME} is to be decided Olive oil ✍ to decide decide today" in today


def test_a_later_day_is_named(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    Proposal.unscoped.update(decide_by=world.now.date() + timedelta(days=4))
    assert f"{NAME}: decide by Sat 14 Mar" in visitor.words("storeroom")
    assert "decide by Sat 14 Mar" in visitor.words("today")


def test_what_is_put_off_says_until_when_and_why(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    put_oil_off(world, oil)
    said = "not before Thu 19 Mar: Another mill next month"
    assert f"{said} 300 g ↷ put off" in visitor.words("storeroom")
    assert f"1 put off Olive oil {said}" in visitor.words("today")
    assert "Nothing waits to be ordered." in visitor.words("storeroom", query="?show=order")


def test_what_was_put_off_is_quiet_once_its_day_has_come(
    world: World, visitor: Visitor, oil: Offer, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_oil_off(world, oil)
    set_clock(monkeypatch, world.now + timedelta(days=9))
    for page in ("storeroom", "today"):
        assert "put off" not in visitor.words(page)


def test_the_list_has_it_in_columns(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    (row,) = lines(visitor.get("list_materials_csv", query="?show=order"))
    waits = (row["Material"], row["To order with"], row["Decide by"], row["Put off until"], row["Put off because"])
    assert waits == ("Olive oil", NAME, "2026-03-10", "", "")
    put_oil_off(world, oil)
    row = next(one for one in lines(visitor.get("list_materials_csv")) if one["Material"] == "Olive oil")
    assert (row["To order with"], row["Decide by"]) == ("", "")
    assert (row["Put off until"], row["Put off because"]) == ("2026-03-19", "Another mill next month")


def test_a_device_is_told_and_may_ask_for_it(world: World, visitor: Visitor, oil: Offer) -> None:
    device = Device(world)
    propose_now(actor=world.actor, at=world.now)
    order = Proposal.objects.within(world.workshop).get().order_id
    (row,) = device.rows("stock/", to_order="true")
    assert row["to_order"] == {"order": order, "order_name": NAME, "day": "2026-03-10", "decide_by": "2026-03-10"}
    assert row["put_off"] is None
    others = device.rows("stock/", to_order="false")
    assert [(one["name"], one["to_order"]) for one in others] == [("Coconut oil", None), ("Sage", None)]
    put_oil_off(world, oil)
    assert device.rows("stock/", to_order="true") == []
    told = {one["name"]: one["put_off"] for one in device.rows("stock/")}
    said = {"until": "2026-03-19", "why": "Another mill next month", "order": None}
    assert told == {"Coconut oil": None, "Olive oil": said, "Sage": None}


def test_ten_materials_on_orders_ask_no_more_of_the_database_than_one(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    few = [visitor.queries(page) for page in ("storeroom", "today")]
    row = Proposal.objects.within(world.workshop).get()
    more = [{**row.lines[0], "material": world.material(f"Wax {number}").pk} for number in range(10)]
    Proposal.unscoped.update(lines=[*row.lines, *more])
    assert [visitor.queries(page) for page in ("storeroom", "today")] == few
    assert visitor.words("storeroom", query="?show=order").count("▼ to order") == 11


def test_orders_of_the_house_next_door_are_not_told_here(world: World, stranger: World, visitor: Visitor, oil: Offer) -> None:
    used(stranger)
    propose_now(actor=stranger.actor, at=world.now)
    assert "▼ to order" not in visitor.words("storeroom")
    assert Device(world).rows("stock/", to_order="true") == []
