"""A person's own page: name, address and password, and which sessions go on."""

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.workshops.models import AuditEntry, Submission, User
from tests.factories import PersonFactory
from tests.web.reading_pages import words_of
from tests.web.visitor import Visitor
from tests.world import PASSWORD, World

NEW = "quiet-linden-stairs-77"
YOU = {"name": "Ottilie Brandt", "email": "ottilie@fennelyard.example", "present_password": ""}


def signed_in(world: World, password: str = PASSWORD) -> Client:
    client = Client()
    answer = client.post(reverse("web:sign_in"), {"email": User.objects.get(pk=world.owner.pk).email, "password": password})
    assert answer.status_code == 302
    return client


@pytest.fixture
def maker(world: World) -> Client:
    return signed_in(world)


def test_the_workshop_page_leads_to_it(maker: Client, world: World) -> None:
    assert f'href="{reverse("web:you")}"' in maker.get(reverse("web:workshop")).content.decode()
    page = maker.get(reverse("web:you"))
    assert (f'value="{world.owner.email}"' in page.content.decode(), "Change your password" in words_of(page)) == (True, True)


def test_the_present_password_is_not_called_optional(maker: Client) -> None:
    words = words_of(maker.get(reverse("web:you")))
    assert "Present password (needed to change the e-mail address)" in words
    assert "(optional)" not in words


def test_the_name_changes_without_the_password(maker: Client, world: World) -> None:
    assert maker.post(reverse("web:you"), {**YOU, "name": "Ottilie  Kern"}).url == reverse("web:you")
    assert "Kept: Ottilie Kern, ottilie@fennelyard.example." in words_of(maker.get(reverse("web:you")))
    assert User.objects.get(pk=world.owner.pk).name == "Ottilie Kern"


@pytest.mark.parametrize("typed", ["", "not-the-password"])
def test_another_address_needs_the_present_password(maker: Client, world: World, typed: str) -> None:
    changed = {**YOU, "email": " Ottilie@Kern.example ", "present_password": typed}
    assert "The present password is not right: type the one you sign in with now." in words_of(
        maker.post(reverse("web:you"), changed)
    )
    assert User.objects.get(pk=world.owner.pk).email == world.owner.email
    assert maker.post(reverse("web:you"), {**changed, "present_password": PASSWORD}).status_code == 302
    assert User.objects.get(pk=world.owner.pk).email == "ottilie@kern.example"
    signed_in(world)


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"name": " "}, "Your name is missing: type a name."),
        ({"email": ""}, "The e-mail address is missing: type it."),
        ({"email": "ottilie@", "present_password": PASSWORD}, "The e-mail address does not look complete"),
        (
            {"email": "Bo@Next.example", "present_password": PASSWORD},
            "This e-mail address is somebody else's here",
        ),
    ],
)
def test_a_wrong_answer_is_told_its_remedy(maker: Client, world: World, changes: dict[str, str], remedy: str) -> None:
    PersonFactory(email="bo@next.example", at=world.now)
    page = maker.post(reverse("web:you"), {**YOU, **changes})
    assert remedy in words_of(page)
    assert PASSWORD not in page.content.decode()
    person = User.objects.get(pk=world.owner.pk)
    assert (person.name, person.email) == (world.owner.name, world.owner.email)


def test_a_new_password_ends_the_other_sessions_and_not_this_one(maker: Client, world: World) -> None:
    other = signed_in(world)
    answer = maker.post(reverse("web:password"), {"present_password": PASSWORD, "password": NEW})
    assert answer.url == reverse("web:you")
    assert "Your new password is kept." in words_of(maker.get(reverse("web:you")))
    assert other.get(reverse("web:you")).url.startswith(reverse("web:sign_in"))
    signed_in(world, NEW)
    sign_in = {"email": world.owner.email, "password": PASSWORD}
    assert "do not belong together" in words_of(Client().post(reverse("web:sign_in"), sign_in))


@pytest.mark.parametrize(
    ("present", "new", "remedy"),
    [
        ("", NEW, "The present password is missing: type it."),
        ("not-the-password", NEW, "The present password is not right"),
        (PASSWORD, "", "The new password is missing: type it."),
        (PASSWORD, "short", "This password is too short."),
        (PASSWORD, "ottilie@fennelyard", "The password is too similar to"),
    ],
)
def test_a_password_that_cannot_be_is_told_its_remedy(maker: Client, world: World, present: str, new: str, remedy: str) -> None:
    page = maker.post(reverse("web:password"), {"present_password": present, "password": new})
    assert remedy in words_of(page)
    assert f'value="{NEW}"' not in page.content.decode()
    signed_in(world)


def test_no_fast_hash_over_a_password_is_kept(maker: Client, world: World) -> None:
    maker.post(reverse("web:password"), {"present_password": PASSWORD, "password": NEW})
    maker.post(reverse("web:you"), {**YOU, "email": "o@kern.example", "present_password": NEW})
    assert not Submission.objects.within(world.workshop).exists()


@pytest.mark.parametrize("name", ["Curehouse", "curehouse ", "manage.py let_in", "Manage.py", "\uff23urehouse"])
def test_nobody_signs_as_the_house_or_its_shell(world: World, name: str) -> None:
    visitor = Visitor(world)
    for page, fields in (("you", {"email": world.owner.email}), ("devices", {"reach": "weighs"})):
        answer = visitor.post(page, name=name, **fields)
        assert (answer.status_code, "Curehouse signs with it itself" in words_of(answer)) == (200, True)
    assert not AuditEntry.objects.within(world.workshop).exists()
