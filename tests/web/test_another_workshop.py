"""An owner opens another workshop, and nothing of the one is in the other."""

from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.notices.models import Subscription
from curehouse.workshops.models import AuditEntry, Member, Scale, Workshop
from tests.architecture.addresses import addresses
from tests.everything import with_everything
from tests.web.on_round import text_of
from tests.web.test_people import member_of, signed_in
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
TYPED = {
    "workshop_name": "Fennelyard Annexe", "unit": "oz", "time_zone": "Europe/Lisbon", "currency": "EUR",
    "currency_other": "", "round_days": ["2"], "scale_name": "Bench scale", "step_g": "0.05",
}  # fmt: skip


def opened(world: World, **typed: Any) -> tuple[Client, HttpResponse]:
    visitor = Visitor(world)
    return visitor.client, visitor.post("workshop_new", **{**TYPED, **typed})


def test_an_owner_opens_another_workshop_and_is_at_work_in_it(world: World) -> None:
    client, answer = opened(world)
    assert (answer.status_code, answer.url) == (302, reverse("web:today"))
    there = Workshop.objects.get(name="Fennelyard Annexe")
    assert (there.unit, there.time_zone, there.currency, list(there.round_days)) == ("oz", "Europe/Lisbon", "EUR", [2])
    assert [(place.user, place.role) for place in Member.objects.within(there)] == [(world.owner, "owner")]
    assert Scale.objects.within(there).get().name == "Bench scale"
    assert Subscription.objects.within(there).filter(user=world.owner).exists()
    page = client.get(reverse("web:workshop"))
    assert page.context["workshop"] == there
    assert "Work elsewhere" in text_of(page)
    places = text_of(client.get(reverse("web:workshops")))
    assert world.workshop.name in places
    assert "Open another workshop" in places
    button = f'<div class="acts"><a class="button second" href="{reverse("web:workshop_new")}">'
    assert button in client.get(reverse("web:workshops")).content.decode(), "with a button's usual space above it"


def test_it_is_noted_in_the_new_trail_and_not_in_the_one_that_others_read(world: World) -> None:
    before = AuditEntry.objects.within(world.workshop).count()
    opened(world)
    there = Workshop.objects.get(name="Fennelyard Annexe")
    assert [one.said for one in AuditEntry.objects.within(there)] == ["Opened this workshop: Fennelyard Annexe"]
    assert AuditEntry.objects.within(world.workshop).count() == before


def test_sent_twice_it_opens_one(world: World) -> None:
    visitor = Visitor(world)
    for _ in range(2):
        visitor.post("workshop_new", **TYPED)
    again = visitor.post("workshop_new", **{**TYPED, "workshop_name": " fennelyard  ANNEXE"})
    assert "go there under Your workshops" in text_of(again)
    assert Workshop.objects.count() == 2


@pytest.mark.parametrize("role", ["maker", "helper", "reader"])
def test_who_is_no_owner_opens_none_and_is_not_asked_to(world: World, role: str) -> None:
    client = signed_in(member_of(world, "wren@fennelyard.example", role).user)
    assert client.get(reverse("web:workshop_new")).status_code == 403
    assert client.post(reverse("web:workshop_new"), TYPED).status_code == 403
    for page in ("workshop", "workshops"):
        assert "Open another workshop" not in text_of(client.get(reverse(f"web:{page}")))
    assert Workshop.objects.count() == 1


def test_a_form_of_another_site_opens_none(world: World) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(world.owner)
    assert client.post(reverse("web:workshop_new"), TYPED).status_code == 403
    assert Workshop.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"workshop_name": " "}, "name is missing"),
        ({"time_zone": "Mars/Olympus"}, "time zone is not known"),
        ({"step_g": "fine"}, "step reads"),
        ({"currency": ""}, "The currency is missing"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_opened(world: World, typed: dict[str, str], said: str) -> None:
    _client, answer = opened(world, **typed)
    assert said in text_of(answer)
    assert Workshop.objects.count() == 1


def test_nothing_of_the_one_is_reached_from_the_other(world: World) -> None:
    """The same person, by the addresses of the one's rows, while at work in the other."""
    with_everything(world)
    client, _answer = opened(world)
    client.raise_request_exception = False
    asked = 0
    for address in addresses():
        if address.is_api or not address.has_ids:
            continue
        for method in ("get", "post"):
            answer = getattr(client, method)(address.filled(world))
            if answer.status_code != 405:
                asked += 1
                assert answer.status_code == 404, (method, address.route)
    assert asked > 50
    assert "Castile" not in text_of(client.get(reverse("web:today")))
