"""What every answer says beside its content: a policy without holes, and that nobody keeps it."""

import re

import pytest
from django.conf import settings
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import reverse

from tests.world import World

pytestmark = pytest.mark.django_db
MONTH_SECONDS = 60 * 60 * 24 * 30


def policy_of(answer: HttpResponse) -> dict[str, list[str]]:
    parts = [part.split() for part in answer["Content-Security-Policy"].split(";")]
    return {words[0]: words[1:] for words in parts}


def ask(client: Client, address: str, **headers: str) -> HttpResponse:
    return client.get(address, headers=headers)


@pytest.mark.parametrize(
    "address", ["/", "/sign-in/", "/you/", "/no-such-page/", "/api/v1/batches/", "/api/nothing/", "/healthz"]
)
def test_every_answer_has_the_policy_and_is_kept_by_nobody(client: Client, world: World, address: str) -> None:
    client.force_login(world.owner)
    answer = client.get(address)
    policy = policy_of(answer)
    for directive in ("default-src", "base-uri", "object-src", "frame-ancestors"):
        assert policy[directive] == ["'none'"], directive
    assert policy["form-action"] == policy["style-src"] == policy["img-src"] == ["'self'"]
    assert not re.search(r"unsafe|\*|https?:|data:|blob:", answer["Content-Security-Policy"])
    assert "no-store" in answer["Cache-Control"]
    assert "camera=()" in answer["Permissions-Policy"]
    assert answer["Cross-Origin-Opener-Policy"] == answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert (answer["X-Content-Type-Options"], answer["X-Frame-Options"]) == ("nosniff", "DENY")
    assert answer["Referrer-Policy"] == "same-origin"


def test_a_script_runs_by_the_nonce_of_its_own_answer_only(client: Client, world: World) -> None:
    client.force_login(world.owner)
    nonces = set()
    for _ in range(2):
        answer = client.get("/")
        (source,) = policy_of(answer)["script-src"]
        nonce = re.fullmatch(r"'nonce-([A-Za-z0-9+/=]{22,})'", source)[1]
        tags = re.findall(r"<script\b[^>]*>", answer.content.decode())
        assert tags
        assert all(f'nonce="{nonce}"' in tag for tag in tags)
        nonces.add(nonce)
    assert len(nonces) == 2


def test_the_page_of_the_api_alone_may_do_more(client: Client, world: World) -> None:
    client.force_login(world.owner)
    docs = policy_of(client.get(reverse("api:docs")))
    usual = policy_of(client.get("/"))
    assert {name for name in docs if docs[name] != usual[name]} == {"script-src", "img-src", "style-src"}
    assert re.fullmatch(r"'nonce-\S+'", " ".join(docs["script-src"]))


def test_browsers_are_held_to_https_where_it_is_spoken_and_nowhere_else(client: Client, world: World) -> None:
    assert "Strict-Transport-Security" not in client.get("/sign-in/", secure=True)
    with override_settings(SECURE_HSTS_SECONDS=MONTH_SECONDS):
        assert Client().get("/sign-in/", secure=True)["Strict-Transport-Security"] == f"max-age={MONTH_SECONDS}"
    assert settings.SECURE_HSTS_SECONDS == 0
