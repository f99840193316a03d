"""What the house would order, as a device reads it: the same figures as are kept, asked for anew, put off."""

from decimal import Decimal

import pytest
from django.test import Client

from curehouse.workshops.models import Member
from inventory.models import Proposal
from inventory.services.offers import TermsEntry, write_terms
from tests.api.device import Device
from tests.used import used
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.views.timezone.now", lambda: world.now)


def test_it_is_looked_for_read_and_put_off(world: World, device: Device) -> None:
    oil = used(world)
    (told,) = device.post("proposals/").json()
    kept = Proposal.objects.within(world.workshop).get()
    assert told["lines"] == kept.lines
    assert (told["order"], told["supplier"], told["day"]) == (kept.order_id, oil.supplier_id, "2026-03-10")
    assert device.get("proposals/").json() == [told]
    answer = device.post(f"materials/{oil.material_id}/put-offs/", {"until": "2026-03-20", "why": "Enough for now"})
    assert (answer.status_code, answer.json()["until"]) == (201, "2026-03-20")
    assert device.get("proposals/").json() == []
    assert [one["why"] for one in device.get(f"materials/{oil.material_id}/put-offs/").json()] == ["Enough for now"]


def test_what_a_line_does_for_the_freight_is_told_with_sums_to_those_who_see_costs(world: World, device: Device) -> None:
    oil = used(world, pack=Decimal(1000), price=Decimal(30))
    used(world, "Coconut oil", left="100", pack=Decimal(1000), price=Decimal(1))
    write_terms(actor=world.actor, supplier=oil.supplier, terms=TermsEntry(Decimal("8.50"), Decimal(100)))
    (told,) = device.post("proposals/").json()
    freight = {"packs": 0, "costs": "8.50", "free_from": "100.00", "is_free": True}
    assert [line["freight"] for line in told["lines"]] == [freight, freight]
    device.patch(f"offers/{oil.pk}/", {"price": "1"})
    (told,) = device.get("proposals/").json()
    assert [line["freight"] for line in told["lines"]] == [{**freight, "is_free": None}] * 2
    person = Client()
    person.force_login(world.owner)
    Member.objects.within(world.workshop).update(role="helper")
    (told,) = person.get("/api/v1/proposals/").json()
    assert told["lines"][0]["freight"] == {"packs": 0, "costs": None, "free_from": None, "is_free": None}


def test_what_was_put_off_is_wanted_again_the_same_day(world: World, device: Device) -> None:
    oil = used(world)
    path = f"materials/{oil.material_id}/"
    assert device.post(f"{path}wanted/").status_code == 409
    device.post(f"{path}put-offs/", {"until": "2026-03-20", "why": "Enough for now"})
    answer = device.post(f"{path}wanted/")
    assert (answer.status_code, answer.json()["until"]) == (201, "2026-03-10")
    assert device.get("proposals/").json()[0]["lines"][0]["material"] == oil.material_id
    assert device.post(f"{path}wanted/").json()["code"] == "not_put_off"


def test_it_is_put_off_to_a_day_to_come(world: World, device: Device) -> None:
    oil = used(world)
    answer = device.post(f"materials/{oil.material_id}/put-offs/", {"until": "2026-03-10", "why": "Enough for now"})
    assert answer.status_code == 400
    assert "after today" in answer.content.decode()


def test_what_is_sold_otherwise_or_by_nobody_stands_on_no_order_of_the_house(world: World, device: Device) -> None:
    oil = used(world)
    (told,) = device.post("proposals/").json()
    now = device.patch(f"offers/{oil.pk}/", {"price": "44"}).json()
    (line,) = device.get("proposals/").json()[0]["lines"]
    assert (line["offer"], line["packs"]) == (now["id"], told["lines"][0]["packs"])
    device.post(f"suppliers/{oil.supplier_id}/retire/")
    assert device.get("proposals/").json() == []
