"""Who is let in, as whom, and where to."""

from datetime import timedelta

import pytest
from django.test import Client

from curehouse.curing.models import Reading
from curehouse.workshops.models import DeviceToken, Member, User
from curehouse.workshops.services import give_token, make_person, revoke_token
from tests.api.device import V1, Device, problem, reading
from tests.world import PASSWORD, World


def with_header(value: str) -> Client:
    return Client(headers={"Authorization": value})


def test_nobody_is_told_how_to_come_in(world: World) -> None:
    answer = Client().get(V1 + "workshop/")
    problem(answer, 401, "not_authenticated")
    assert answer["WWW-Authenticate"] == 'Bearer realm="Curehouse"'


@pytest.mark.parametrize("header", ["Bearer ch_wrong", "Bearer", "Bearer a b", "bearer \u00e9", "Bearer " + "x" * 5000])
def test_a_token_that_opens_nothing_is_refused(world: World, header: str) -> None:
    problem(with_header(header).get(V1 + "workshop/"), 401, "token")


@pytest.mark.parametrize("header", ["Basic b3R0aWxpZTp4", "ch_abc", "Token abc"])
def test_another_way_of_signing_in_counts_as_nobody(world: World, header: str) -> None:
    problem(with_header(header).get(V1 + "workshop/"), 401, "not_authenticated")


def test_a_token_opens_its_workshop(device: Device) -> None:
    assert device.get("workshop/").json()["name"] == "Fennel Yard Soapworks"


def test_a_token_taken_back_opens_nothing(world: World, device: Device) -> None:
    revoke_token(token=DeviceToken.objects.within(world.workshop).get(), at=world.now)
    problem(device.get("workshop/"), 401, "token")


def test_a_device_signs_what_it_writes(world: World, device: Device) -> None:
    bar = world.bar(world.batch())
    assert device.post("readings/", reading(bar, "120.0", world.days_ago(29))).json()["signed_by"] == "Bench tablet"
    row = Reading.objects.within(world.workshop).get()
    assert (row.by_user, row.by_device.name) == (None, "Bench tablet")


def signed_in(world: World, *, checks: bool = False) -> Client:
    client = Client(enforce_csrf_checks=checks)
    assert client.login(username=world.email, password=PASSWORD)
    return client


def test_a_member_signed_in_at_the_pages_is_let_in(world: World) -> None:
    assert signed_in(world).get(V1 + "workshop/").json()["id"] == world.workshop.pk


def test_a_members_write_needs_the_csrf_token(world: World) -> None:
    client = signed_in(world, checks=True)
    body = {"name": "Pocket scale", "step_g": "0.1"}
    problem(client.post(V1 + "scales/", body, content_type="application/json"), 403, "permission_denied")
    client.get("/api/docs/")
    answer = client.post(
        V1 + "scales/", body, content_type="application/json", headers={"X-CSRFToken": client.cookies["csrftoken"].value}
    )
    assert answer.status_code == 201, answer.content


def test_somebody_without_a_workshop_is_told_so(world: World) -> None:
    make_person(email="alder@example.org", name="Alder", password=PASSWORD, at=world.now)
    client = Client()
    client.login(username="alder@example.org", password=PASSWORD)
    problem(client.get(V1 + "workshop/"), 403, "no_workshop")


def test_a_reader_may_look_and_not_write(world: World) -> None:
    person = make_person(email="alder@example.org", name="Alder", password=PASSWORD, at=world.now)
    Member.unscoped.create(workshop=world.workshop, user=person, role=Member.Role.READER, joined_at=world.now)
    client = Client()
    client.login(username="alder@example.org", password=PASSWORD)
    assert client.get(V1 + "batches/").status_code == 200
    body = {"name": "Pocket scale", "step_g": "0.1"}
    problem(client.post(V1 + "scales/", body, content_type="application/json"), 403, "role")


def test_a_member_of_two_workshops_is_in_the_one_chosen_at_the_pages(world: World, stranger: World) -> None:
    Member.unscoped.create(
        workshop=stranger.workshop, user=world.owner, role=Member.Role.MAKER, joined_at=world.now + timedelta(days=1)
    )
    client = signed_in(world)
    assert client.get(V1 + "workshop/").json()["id"] == world.workshop.pk
    session = client.session
    session["workshop"] = stranger.workshop.pk
    session.save()
    assert client.get(V1 + "workshop/").json()["id"] == stranger.workshop.pk


def test_somebody_shut_out_is_nobody(world: World) -> None:
    client = signed_in(world)
    User.objects.filter(pk=world.owner.pk).update(is_active=False)
    problem(client.get(V1 + "workshop/"), 401)


def test_two_tokens_of_one_person_open_two_workshops(world: World, stranger: World) -> None:
    _token, secret = give_token(actor=stranger.actor, name="Tablet", reach="works", at=stranger.now)
    here, there = Device(world), with_header(f"Bearer {secret}")
    assert here.get("workshop/").json()["id"] != there.get(V1 + "workshop/").json()["id"]
