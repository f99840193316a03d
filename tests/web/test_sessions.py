"""Where a person is signed in: seen, ended one by one or all at once, and not written at every look."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from curehouse.workshops.models import AuditEntry, PersonSession
from tests.web.on_round import text_of
from tests.web.test_people import member_of, send
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db
PHONE = "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) Version/17.5 Safari/604.1"
DESK = "Mozilla/5.0 (X11; Linux x86_64; rv:131.0) Gecko/20100101 Firefox/131.0"


def signed_in(world: World, agent: str, address: str) -> Client:
    client = Client(headers={"User-Agent": agent}, REMOTE_ADDR=address)
    sent = {"email": world.owner.email, "password": PASSWORD}
    assert client.post(reverse("web:sign_in"), sent).status_code == 302
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse("web:today")).status_code == 200


def mark_on(page: HttpResponse) -> str:
    (mark,) = re.findall(r'name="session" value="(\w+)"', page.content.decode())
    return mark


def test_a_person_sees_where_they_are_signed_in_and_ends_one(world: World) -> None:
    phone, desk = signed_in(world, PHONE, "192.0.2.7"), signed_in(world, DESK, "192.0.2.8")
    page = desk.get(reverse("web:sessions"))
    words = text_of(page)
    assert "Safari on an iPhone" in words
    assert "from 192.0.2.7" in words
    assert "Firefox on Linux" in words
    assert phone.session.session_key not in page.content.decode()
    assert send(desk, "session_end", session=mark_on(page)).status_code == 302
    assert (is_in(phone), is_in(desk)) == (False, True)
    assert AuditEntry.objects.within(world.workshop).newest_first()[0].said == "Ended one of their sessions"


def test_signing_out_everywhere_else_leaves_this_one_and_others_peoples(world: World) -> None:
    phone, desk = signed_in(world, PHONE, "192.0.2.7"), signed_in(world, DESK, "192.0.2.8")
    other = Client()
    other.force_login(member_of(world, "wren@fennelyard.example", "maker").user)
    assert send(desk, "sessions_end").status_code == 302
    assert (is_in(phone), is_in(desk), is_in(other)) == (False, True, True)


def test_nobody_ends_the_session_of_another(world: World) -> None:
    desk, other = signed_in(world, DESK, "192.0.2.8"), Client()
    person = member_of(world, "wren@fennelyard.example", "maker").user
    for one in (Client(), other):
        one.force_login(person)
    mark = mark_on(other.get(reverse("web:sessions")))
    assert send(desk, "session_end", session=mark).status_code == 404
    assert is_in(other)


def test_a_new_password_ends_the_others_at_once(world: World) -> None:
    phone, desk = signed_in(world, PHONE, "192.0.2.7"), signed_in(world, DESK, "192.0.2.8")
    desk.post(reverse("web:password"), {"present_password": PASSWORD, "password": "lantern-orchard-spoon-7"})
    assert PersonSession.objects.filter(person=world.owner).count() == 1
    assert (is_in(phone), is_in(desk)) == (False, True)


def writes_of(client: Client) -> list[str]:
    with CaptureQueriesContext(connection) as captured:
        assert is_in(client)
    return [query["sql"] for query in captured if not query["sql"].startswith("SELECT")]


def test_being_seen_is_written_once_in_five_minutes_and_not_at_every_look(world: World) -> None:
    client = signed_in(world, PHONE, "192.0.2.7")
    row = PersonSession.objects.get()
    assert writes_of(client) == []
    earlier = timezone.now() - timedelta(minutes=6)
    PersonSession.objects.update(seen_at=earlier)
    assert len(writes_of(client)) == 1
    assert writes_of(client) == []
    again = PersonSession.objects.get()
    assert again.seen_at > earlier
    assert again.begun_at == row.begun_at


def test_what_is_kept_of_a_session_later_keeps_when_it_began(world: World) -> None:
    client = signed_in(world, PHONE, "192.0.2.7")
    began = timezone.now() - timedelta(days=3)
    PersonSession.objects.update(begun_at=began)
    client.post(reverse("web:workshops"), {"workshop": world.workshop.pk})
    assert PersonSession.objects.get().begun_at == began


def test_signing_out_ends_the_row(world: World) -> None:
    client = signed_in(world, PHONE, "192.0.2.7")
    client.post(reverse("web:sign_out"))
    assert not PersonSession.objects.exists()


def test_a_session_says_nothing_of_a_name_that_is_no_words(world: World, monkeypatch: Any) -> None:
    client = signed_in(world, "evil\r\nname\x00" + "x" * 4000, "192.0.2.7")
    assert PersonSession.objects.get().from_device.isprintable()
    assert client.cookies[settings.SESSION_COOKIE_NAME]["httponly"]
