"""A session or token that was planted before signing in is worth nothing, and one that ended is worth nothing again."""

from collections.abc import Callable

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from curehouse.workshops.models import PersonSession
from curehouse.workshops.services.invitations import invite
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db
SESSION, TOKEN = "sessionid", "csrftoken"


def with_cookie(value: str, name: str = SESSION) -> Client:
    client = Client()
    client.cookies[name] = value
    return client


def is_in(key: str) -> bool:
    return with_cookie(key).get("/").status_code == 200


def sign_in(client: Client, world: World) -> None:
    assert client.post(reverse("web:sign_in"), {"email": world.owner.email, "password": PASSWORD}).status_code == 302


def join(client: Client, world: World) -> None:
    _invitation, secret = invite(actor=world.actor, role="maker", email="", at=timezone.now())
    sent = {"invitation": secret, "name": "Wren", "email": "wren@fennelyard.example", "password": "lantern-orchard-spoon-7"}
    assert client.post(reverse("web:join"), sent).status_code == 302


WAYS_IN = [sign_in, join]


def planted_row(world: World, *, signed_in: bool) -> str:
    """Return the key of a session somebody made at the house themselves, to be planted in another browser."""
    client = Client()
    session = client.session
    session["a note"] = "mine"
    session.save()
    if signed_in:
        client.force_login(world.owner)
    return client.session.session_key


@pytest.mark.parametrize("come_in", WAYS_IN)
def test_a_session_planted_before_signing_in_lets_nobody_in_after_it(world: World, come_in: Callable) -> None:
    key = planted_row(world, signed_in=False)
    victim = with_cookie(key)
    come_in(victim, world)
    assert victim.cookies[SESSION].value != key
    assert not is_in(key)
    assert not PersonSession.objects.filter(pk=key).exists()


@pytest.mark.parametrize("key", ["a" * 32, "x", "../../secret-key", "' OR 1=1 --", "é" * 20, "\x00" * 8, "a" * 4000])
@pytest.mark.parametrize("come_in", WAYS_IN)
def test_nor_does_a_key_that_the_house_never_gave(world: World, come_in: Callable, key: str) -> None:
    victim = with_cookie(key.encode().decode("latin-1"))
    come_in(victim, world)
    assert victim.cookies[SESSION].value != key
    assert victim.get("/").status_code == 200
    assert not PersonSession.objects.filter(pk=key).exists()


@pytest.mark.parametrize("come_in", WAYS_IN)
def test_a_token_planted_before_signing_in_is_another_after_it(world: World, come_in: Callable) -> None:
    victim = Client()
    victim.get(reverse("web:sign_in"))
    planted = victim.cookies[TOKEN].value
    come_in(victim, world)
    assert victim.cookies[TOKEN].value != planted


def test_somebody_else_who_signs_in_in_the_same_browser_takes_nothing_over(world: World, stranger: World) -> None:
    browser = Client()
    browser.force_login(stranger.owner)
    session = browser.session
    session["a note"] = "hers"
    session.save()
    first = session.session_key
    browser.post(reverse("web:sign_out"))
    sign_in(browser, world)
    assert "a note" not in browser.session
    assert not is_in(first)


def test_signing_out_ends_the_key_and_not_the_cookie_alone(world: World) -> None:
    browser = Client()
    sign_in(browser, world)
    key = browser.cookies[SESSION].value
    assert is_in(key)
    browser.post(reverse("web:sign_out"))
    assert not is_in(key)
    # And what is kept of it in a browser does not come to life again with the next sign-in.
    sign_in(browser, world)
    assert browser.cookies[SESSION].value != key
    assert not is_in(key)


def test_a_new_password_gives_this_browser_a_new_key(world: World) -> None:
    browser = Client()
    sign_in(browser, world)
    key = browser.cookies[SESSION].value
    sent = {"present_password": PASSWORD, "password": "lantern-orchard-spoon-7"}
    assert browser.post(reverse("web:password"), sent).status_code == 302
    assert browser.get("/").status_code == 200
    assert not is_in(key)


def test_a_session_of_somebody_shut_out_is_worth_nothing(world: World) -> None:
    browser = Client()
    sign_in(browser, world)
    world.owner.is_active = False
    world.owner.save()
    assert not is_in(browser.cookies[SESSION].value)


def test_sessions_are_kept_in_one_table_and_read_as_data(world: World, settings) -> None:
    """A session that was written by somebody with the database only holds words: nothing in it is run."""
    assert settings.SESSION_SERIALIZER == "django.contrib.sessions.serializers.JSONSerializer"
    assert settings.SESSION_ENGINE == "curehouse.workshops.sessions"
    sign_in(Client(), world)
    assert not Session.objects.exists()
    assert PersonSession.objects.count() == 1
