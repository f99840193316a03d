"""Offers and orders as a device goes about them: written, sent, received with all that differs, called off; done once."""

import json
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from curehouse.workshops.services import give_token
from inventory.balance import differences
from inventory.models import Lot, Order
from tests.api.device import V1, Device, problem
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.views.timezone.now", lambda: world.now)


def made(answer: Any, status: int = 201) -> dict[str, Any]:
    assert answer.status_code == status, answer.content
    return answer.json()


@pytest.fixture
def offers(world: World, device: Device) -> list[int]:
    """Return the ids of olive oil, cheaper from four packs, and of lye."""
    supplier, oil, lye = world.supplier().pk, world.material().pk, world.material("Lye", kind="lye").pk
    terms = {"freight": "9.50", "free_freight_from": 100, "hazard_surcharge": "15", "lead_days": 3}
    assert made(device.patch(f"suppliers/{supplier}/terms/", terms), 200)["hazard_surcharge"] == "15.00"
    body = {"supplier": supplier, "material": oil, "pack": 1000, "price": "8.20"}
    first = made(device.post("offers/", {**body, "breaks": [{"from_packs": 4, "price": "7.20"}], "shelf_days": 300}))
    body = {"supplier": supplier, "material": lye, "pack": 1000, "price": 5.5, "is_hazardous": True}
    return [first["id"], made(device.post("offers/", body))["id"]]


@pytest.fixture
def order(world: World, device: Device, offers: list[int]) -> dict[str, Any]:
    """Return four packs of oil and one of lye, sent two days ago."""
    lines = [{"offer": offers[0], "packs": 4}, {"offer": offers[1], "packs": 1}]
    written = made(device.post("orders/", {"supplier": world.supplier().pk, "lines": lines, "note": "Ring first"}))
    assert (written["state"], written["goods"], written["total"]) == ("written", "34.30", "58.80")
    return made(device.post(f"orders/{written['id']}/send/", {"sent_on": "2026-03-08"}), 200)


def line_of(order: dict[str, Any], name: str = "Olive oil") -> int:
    return next(line["id"] for line in order["lines"] if line["material_name"] == name)


def test_other_terms_are_a_new_offer(device: Device, offers: list[int]) -> None:
    changed = made(device.patch(f"offers/{offers[0]}/", {"price": "8.90"}), 200)
    assert (changed["follows"], changed["price"], changed["breaks"][0]["from_packs"]) == (offers[0], "8.9000", 4)
    assert [row["id"] for row in device.rows("offers/", standing="true")] == [offers[1], changed["id"]]
    ended = made(device.post(f"offers/{offers[1]}/end/"), 200)
    assert ended["ended_at"]
    problem(device.post(f"offers/{offers[1]}/end/"), 409, "ended")


def test_an_order_is_added_to_while_it_is_written(world: World, device: Device, offers: list[int]) -> None:
    supplier = world.supplier().pk
    first = made(device.post("orders/", {"supplier": supplier, "lines": [{"offer": offers[0], "packs": 3}]}))
    body = {"supplier": supplier, "lines": [{"offer": offers[0], "packs": 1}], "adds": True}
    again = made(device.post("orders/", body))
    assert (again["id"], again["lines"][0]["packs"], again["lines"][0]["price"]) == (first["id"], 4, "7.2000")
    problem(device.post("orders/", {"supplier": supplier, "lines": [{"offer": 987654, "packs": 1}]}), 404, "not_here", "lines")


def test_an_offer_that_is_named_twice_is_refused(world: World, device: Device, offers: list[int]) -> None:
    lines = [{"offer": offers[0], "packs": 2}, {"offer": offers[0], "packs": 3}]
    problem(device.post("orders/", {"supplier": world.supplier().pk, "lines": lines}), 400, "offer_twice", "lines")


def test_what_comes_in_differs_and_is_booked_once(world: World, device: Device, order: dict[str, Any]) -> None:
    oil = {
        "line": line_of(order),
        "lots": [
            {"packs": 2, "supplier_lot": "BM-1", "best_before": "2027-03-01", "standing": "released"},
            {"packs": 1, "why": "lid cracked", "is_damaged": True},
        ],
        "price": "7.80",
        "changes_offer": True,
    }
    lye = {"line": line_of(order, "Lye"), "refused_packs": 1, "refused_why": "wet"}
    body = json.dumps({"received_on": "2026-03-10", "lines": [oil, lye]})
    path, key = f"{V1}orders/{order['id']}/receive/", f'"{uuid.uuid4()}"'
    answers = [
        device.client.post(path, body, content_type="application/json", headers={"Idempotency-Key": key}) for _ in range(2)
    ]
    assert answers[0].content == answers[1].content
    shown = made(answers[0], 200)
    assert [(line["came"], line["damaged"], line["open_packs"]) for line in shown["lines"]] == [(0, 1, 1), (3, 0, 1)]
    assert shown["state"] == "partly_in"
    lots = Lot.objects.within(world.workshop).order_by("number").values_list("on_hand", "standing", "unit_cost")
    assert list(lots) == [(2000, "released", Decimal("0.0078")), (1000, "quarantine", Decimal("0.0078"))]
    kinds = [line["kind"] for step in device.rows(f"orders/{order['id']}/steps/") for line in step["lines"]]
    assert sorted(kinds) == ["came", "damaged", "damaged"]
    prices = {row["material_name"]: row["breaks"] for row in device.rows("offers/", standing="true")}
    assert prices["Olive oil"] == [{"from_packs": 4, "price": "7.8000"}]
    (first, second) = device.get("arrivals/").json()
    assert {first["material_name"], second["material_name"]} == {"Lye", "Olive oil"}
    assert first["likely_on"] is not None
    assert differences() == []


def test_an_error_of_a_line_says_which(device: Device, order: dict[str, Any]) -> None:
    line = {"line": line_of(order), "lots": [{"packs": 1}, {"packs": 0}]}
    said = problem(device.post(f"orders/{order['id']}/receive/", {"received_on": "2026-03-10", "lines": [line]}), 400, "packs")
    assert said["data"] == {"line": line_of(order), "lot": 1}


def test_another_day_and_calling_off(device: Device, order: dict[str, Any]) -> None:
    path = f"orders/{order['id']}/"
    assert made(device.post(path + "promise/", {"promised_on": "2026-03-20"}), 200)["promised_on"] == "2026-03-20"
    gone = made(device.post(path + "call-off/", {"why": "sold out", "lines": [line_of(order, "Lye")]}), 200)
    assert gone["state"] == "sent"
    assert made(device.post(path + "call-off/", {"why": "closed"}), 200)["state"] == "called_off"
    problem(device.post(path + "call-off/", {"why": "closed"}), 409, "nothing_open")
    problem(device.post(path + "send/", {"sent_on": "2026-03-10"}), 409, "not_written")
    assert device.get("arrivals/").json() == []


def test_who_sees_no_costs_gets_none(world: World, order: dict[str, Any], offers: list[int]) -> None:
    _token, secret = give_token(actor=world.actor, name="Shelf tablet", reach="reads", at=world.now)
    client = Client(headers={"Authorization": f"Bearer {secret}"})
    paths = ("offers/", f"offers/{offers[0]}/", "orders/", f"orders/{order['id']}/", f"orders/{order['id']}/steps/")
    for path in (*paths, f"suppliers/{world.supplier().pk}/terms/"):
        answer = client.get(V1 + path)
        assert answer.status_code == 200
        for price in ("8.20", "7.20", "9.50", "15.00", "28.80", "34.30"):
            assert price not in answer.text, (path, price)


def test_a_strangers_order_is_not_here(device: Device, stranger: World, order: dict[str, Any]) -> None:
    theirs = stranger.offer()
    supplier = theirs.supplier_id
    problem(device.post("orders/", {"supplier": supplier, "lines": [{"offer": theirs.pk, "packs": 1}]}), 404, "not_here")
    assert Order.objects.within(stranger.workshop).count() == 0
