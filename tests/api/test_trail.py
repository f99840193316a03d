"""Who did what, read by the owner and by nobody else, and written by nobody through the API."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from curehouse.workshops.models import AuditEntry
from curehouse.workshops.services.audit import note
from tests.api.device import V1, Device, problem
from tests.web.test_people import member_of
from tests.world import World

pytestmark = pytest.mark.django_db
DEEDS = V1 + "deeds/"


@pytest.fixture
def owner(world: World) -> Client:
    client = Client()
    client.force_login(world.owner)
    return client


def deeds(world: World, count: int) -> list[AuditEntry]:
    return [
        note(
            actor=world.actor,
            code="batch_cut" if number % 2 else "weigh",
            said=f"Deed {number}",
            at=world.now - timedelta(minutes=count - number),
        )
        for number in range(count)
    ]


def said(client: Client, **query: str) -> list[str]:
    answer = client.get(DEEDS, query)
    assert answer.status_code == 200, answer.content
    return [row["said"] for row in answer.json()["results"]]


def test_the_owner_reads_the_deeds_newest_first_and_in_parts(world: World, owner: Client) -> None:
    deeds(world, 5)
    first = owner.get(DEEDS, {"page_size": "3"}).json()
    assert [row["said"] for row in first["results"]] == ["Deed 4", "Deed 3", "Deed 2"]
    assert [row["said"] for row in owner.get(first["next"]).json()["results"]] == ["Deed 1", "Deed 0"]
    assert said(owner, ordering="at") == [f"Deed {number}" for number in range(5)]


def test_deeds_are_found_by_what_whom_and_when(world: World, owner: Client) -> None:
    rows = deeds(world, 4)
    assert said(owner, code="batch_cut") == ["Deed 3", "Deed 1"]
    assert said(owner, since=rows[2].at.isoformat()) == ["Deed 3", "Deed 2"]
    assert said(owner, before=rows[1].at.isoformat()) == ["Deed 0"]
    assert len(said(owner, by_user=str(world.owner.pk))) == 4
    assert said(owner, by_device="1") == []
    assert said(owner, said="deed 2") == ["Deed 2"]
    problem(owner.get(DEEDS, {"code": "nonsense"}), 400, field="code")
    problem(owner.get(DEEDS, {"colour": "red"}), 400)


def test_nobody_but_the_owner_reads_them(world: World, device: Device) -> None:
    (row,) = deeds(world, 1)
    clients = [device.client]
    for number, role in enumerate(("maker", "helper", "reader")):
        client = Client()
        client.force_login(member_of(world, f"wren{number}@fennelyard.example", role).user)
        clients.append(client)
    for client in clients:
        problem(client.get(DEEDS), 403)
        problem(client.get(f"{DEEDS}{row.pk}/"), 403)


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_nobody_writes_them(world: World, owner: Client, method: str) -> None:
    (row,) = deeds(world, 1)
    for path in (DEEDS, f"{DEEDS}{row.pk}/"):
        problem(getattr(owner, method)(path, "{}", content_type="application/json"), 405)
    assert AuditEntry.objects.within(world.workshop).count() == 1


def test_its_queries_do_not_grow(world: World, owner: Client) -> None:
    counts = []
    for _ in range(2):
        deeds(world, 5)
        with CaptureQueriesContext(connection) as captured:
            said(owner, page_size="200")
        counts.append(len(captured))
    assert counts[0] == counts[1]
