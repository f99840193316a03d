"""Coming in, going out, and whether the house is well."""

import pytest
from django.db import Error, connection
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.workshops.models import Member, User
from tests.web.reading_pages import words_of
from tests.world import PASSWORD, World

NOT_RIGHT = "This e-mail address and password do not belong together: check both and try again."


def sign_in(client: Client, *, email: str, password: str = PASSWORD, **also: str) -> HttpResponse:
    return client.post(reverse("web:sign_in"), {"email": email, "password": password, **also})


def test_a_member_signs_in_with_the_address_in_any_letters_and_lands_on_today(client: Client, world: World) -> None:
    answer = sign_in(client, email=" Ottilie@FennelYard.example ")
    assert (answer.status_code, answer.url) == (302, reverse("web:today"))
    assert client.get(reverse("web:today")).status_code == 200


@pytest.mark.parametrize(
    ("email", "password"),
    [
        ("ottilie@fennelyard.example", "quiet-linden-stairs"),
        ("nobody@fennelyard.example", PASSWORD),
        ("not an address", "a-longer-guess"),
    ],
)
def test_signing_in_answers_the_same_words_to_an_unknown_address_and_to_a_wrong_password(
    client: Client, world: World, email: str, password: str
) -> None:
    answer = sign_in(client, email=email, password=password)
    assert NOT_RIGHT in words_of(answer)
    assert f'value="{email}"' in answer.content.decode()
    assert password not in answer.content.decode().replace(email, "")


@pytest.mark.parametrize(
    ("email", "password", "remedy"),
    [
        ("", PASSWORD, "The e-mail address is missing: type it."),
        ("ottilie@fennelyard.example", "", "The password is missing: type it."),
        ("o" * 255, PASSWORD, "The e-mail address is too long: keep it to 254 characters."),
        ("ottilie@fennelyard.example", "p" * 201, "The password is too long: keep it to 200 characters."),
    ],
)
def test_signing_in_says_what_is_missing(client: Client, world: World, email: str, password: str, remedy: str) -> None:
    assert remedy in words_of(sign_in(client, email=email, password=password))


def test_somebody_who_may_not_come_in_any_more_gets_the_same_words(client: Client, world: World) -> None:
    User.objects.filter(pk=world.owner.pk).update(is_active=False)
    assert NOT_RIGHT in words_of(sign_in(client, email=world.owner.email))


def test_a_page_asked_for_before_signing_in_is_the_one_shown_after_it(client: Client, world: World) -> None:
    asked = client.get(reverse("web:scales"))
    assert asked.url == f"{reverse('web:sign_in')}?next={reverse('web:scales')}"
    assert f'name="next" value="{reverse("web:scales")}"' in client.get(asked.url).content.decode()
    assert sign_in(client, email=world.owner.email, next=reverse("web:scales")).url == reverse("web:scales")


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", "/\\elsewhere"]
)
def test_signing_in_leads_to_no_other_house(client: Client, world: World, elsewhere: str) -> None:
    assert sign_in(client, email=world.owner.email, next=elsewhere).url == reverse("web:today")


def test_signing_in_again_leads_on(client: Client, world: World) -> None:
    client.force_login(world.owner)
    assert client.get(reverse("web:sign_in")).url == reverse("web:today")


def test_signing_out_takes_a_form_and_shuts_the_door(client: Client, world: World) -> None:
    client.force_login(world.owner)
    assert client.get(reverse("web:sign_out")).status_code == 405
    assert client.get(reverse("web:today")).status_code == 200
    assert client.post(reverse("web:sign_out")).url == reverse("web:sign_in")
    assert client.get(reverse("web:today")).status_code == 302


def test_a_form_without_its_token_is_answered_with_a_way_on(world: World) -> None:
    strict = Client(enforce_csrf_checks=True)
    answer = sign_in(strict, email=world.owner.email)
    assert answer.status_code == 403
    assert "load the page again and send it anew" in words_of(answer)


def test_a_person_without_a_workshop_is_told_so(client: Client, world: World) -> None:
    Member.unscoped.all().delete()
    client.force_login(world.owner)
    answer = client.get(reverse("web:today"))
    assert answer.status_code == 403
    assert "belongs to no workshop of this house" in words_of(answer)


def test_a_page_that_is_not_there_leads_back_to_today(client: Client, world: World) -> None:
    client.force_login(world.owner)
    answer = client.get("/no-such-room/")
    assert answer.status_code == 404
    assert "No such page" in words_of(answer)
    assert 'href="/"' in answer.content.decode()


def test_the_house_says_it_is_well(client: Client, db: None) -> None:
    answer = client.get("/healthz")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok", "database": "ok"})


def test_the_house_says_so_when_its_database_does_not_answer(client: Client, db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone() -> None:
        raise Error("gone")

    with monkeypatch.context() as without_database:
        without_database.setattr(connection, "cursor", gone)
        answer = client.get("/healthz")
    assert (answer.status_code, answer.json()["database"]) == (503, "failing")
