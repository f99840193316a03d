"""A paper may show what a lot cost: it is opened by those who see costs, unless it was said to show no prices."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from curehouse.workshops.roles import Role
from curehouse.workshops.services import give_token
from inventory.models import LotFile
from tests.web.on_round import text_of
from tests.web.test_people import member_of, signed_in
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
INVOICE = b"invoice 4711: 38.90 EUR"


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Any) -> None:
    settings.DATA_FOLDER = tmp_path


def device(world: World, reach: str) -> Client:
    _token, secret = give_token(actor=world.actor, name=reach, reach=reach, at=world.now)
    return Client(headers={"Authorization": f"Bearer {secret}"})


def at_the_page(world: World, **said: str) -> None:
    sent = {"file": SimpleUploadedFile("invoice.txt", INVOICE), **said}
    assert Visitor(world).post("lot_paper", world.lot().pk, **sent).status_code == 302


def at_the_api(world: World, **said: str) -> None:
    sent = {"file": SimpleUploadedFile("invoice.txt", INVOICE), **said}
    path = f"/api/v1/lots/{world.lot().pk}/files/"
    assert device(world, "works").post(path, sent, headers={"Idempotency-Key": '"a"'}).status_code == 201


def opened_by(world: World, paper: LotFile, role: str) -> list[int]:
    """Return what somebody of that role is answered at the page and at the API."""
    client = signed_in(member_of(world, f"{role}@fennelyard.example", role).user)
    paths = (reverse("web:lot_file", args=[paper.pk]), f"/api/v1/files/{paper.pk}/content/")
    answers = [client.get(path) for path in paths]
    for answer in answers:
        assert (INVOICE in answer.content) == (answer.status_code == 200)
    return [answer.status_code for answer in answers]


@pytest.mark.parametrize("attach", [at_the_page, at_the_api])
def test_a_paper_nobody_spoke_for_is_for_those_who_see_costs(world: World, attach: Any) -> None:
    attach(world)
    paper = LotFile.objects.within(world.workshop).get()
    found = {role: opened_by(world, paper, role) for role in Role.values}
    assert found == {"owner": [200, 200], "maker": [200, 200], "reader": [200, 200], "helper": [403, 403]}
    path = f"/api/v1/files/{paper.pk}/content/"
    assert [device(world, reach).get(path).status_code for reach in ("weighs", "reads", "works")] == [403, 403, 200]


@pytest.mark.parametrize("attach", [at_the_page, at_the_api])
def test_a_paper_said_to_show_no_prices_is_for_everybody_who_sees_the_storeroom(world: World, attach: Any) -> None:
    attach(world, without_prices="true")
    paper = LotFile.objects.within(world.workshop).get()
    assert {role: opened_by(world, paper, role) for role in Role.values} == dict.fromkeys(Role.values, [200, 200])
    path = f"/api/v1/files/{paper.pk}/content/"
    assert [device(world, reach).get(path).status_code for reach in ("weighs", "reads", "works")] == [403, 200, 200]
    assert device(world, "reads").get(f"/api/v1/files/{paper.pk}/").json()["without_prices"] is True


def test_the_lot_names_a_paper_to_a_helper_and_does_not_offer_it(world: World) -> None:
    at_the_page(world)
    paper = LotFile.objects.within(world.workshop).get()
    client = signed_in(member_of(world, "wren@fennelyard.example", "helper").user)
    page = client.get(reverse("web:lot", args=[paper.lot_id]))
    assert "invoice.txt" in text_of(page)
    assert "for those who see costs" in text_of(page)
    assert reverse("web:lot_file", args=[paper.pk]) not in page.content.decode()
    assert reverse("web:lot_file", args=[paper.pk]) in Visitor(world).get("lot", paper.lot_id).content.decode()
    refused = client.get(reverse("web:lot_file", args=[paper.pk]))
    assert "ask Ottilie" in text_of(refused)
