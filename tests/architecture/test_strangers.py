"""Nobody reaches a row except through their own workshop: tried at every address there is."""

import uuid
from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client, override_settings

from curehouse.workshops.services import give_token
from tests.architecture.addresses import Address, addresses
from tests.architecture.conftest import Houses
from tests.everything import SCOPED

pytestmark = pytest.mark.django_db

ALL = addresses()
WITH_IDS = [address for address in ALL if address.has_ids and address.name != "api:None"]
# Where nobody has signed in yet, and why.
PUBLIC = {
    "web:healthz": "the supervisor and containers ask it; it says nothing of the house",
    "web:set_up": "there is nobody to sign in before it",
    "web:sign_in": "the door itself",
    "web:sign_in_code": "the door's second step: it leads back to the first whoever has not passed that",
    "web:join": "whoever holds an invitation is let in by it",
    "api:None": "what is nowhere is answered with 404 to everybody",
}
# A device is nobody's owner, whoever gave it its token.
OWNERS_ONLY = {"api:deeds", "api:deed"}
METHODS = ("get", "post", "put", "patch", "delete")


def name_of(address: Address) -> str:
    return f"/{address.route}"


def member_of(houses: Houses, address: Address) -> Callable[..., HttpResponse]:
    """Return a caller of *address* who is a member of our workshop."""
    client = Client(raise_request_exception=False)
    if address.is_api and address.name not in OWNERS_ONLY:
        _token, secret = give_token(actor=houses.ours.actor, name="Rack tablet", reach="works", at=houses.ours.now)
        client.defaults = {"HTTP_AUTHORIZATION": f"Bearer {secret}", "CONTENT_TYPE": "application/json"}
    else:
        client.force_login(houses.ours.owner)

    def ask(method: str, path: str) -> HttpResponse:
        if method == "post" and not address.is_api:
            return client.post(path, {"form_key": str(uuid.uuid4())})
        return getattr(client, method)(path)

    return ask


def answers_to_a_member(houses: Houses, address: Address, path: str) -> dict[str, int]:
    """Return the status of *path* by method, without the methods it does not know."""
    ask = member_of(houses, address)
    found = {method: ask(method, path).status_code for method in METHODS}
    return {method: status for method, status in found.items() if status != 405}


def rows(houses: Houses) -> list[list[dict]]:
    return [list(model.unscoped.filter(workshop=houses.theirs.workshop).order_by("pk").values()) for model in SCOPED]


@pytest.mark.parametrize("address", WITH_IDS, ids=name_of)
def test_a_strangers_id_is_answered_404_and_changes_nothing(houses: Houses, address: Address) -> None:
    before = rows(houses)
    answers = answers_to_a_member(houses, address, address.filled(houses.theirs))
    assert answers
    assert set(answers.values()) == {404}, answers
    assert rows(houses) == before


@pytest.mark.parametrize("address", WITH_IDS, ids=name_of)
def test_ones_own_id_is_not_answered_404(houses: Houses, address: Address) -> None:
    """The control: what a stranger is refused is there."""
    answers = answers_to_a_member(houses, address, address.filled(houses.ours))
    assert answers
    assert not {404, 500} & set(answers.values()), answers


def answer_to_nobody(address: Address, path: str, method: str) -> HttpResponse:
    return getattr(Client(raise_request_exception=False), method)(path)


def is_kept_out(answer: HttpResponse) -> bool:
    """Whether somebody who has not signed in saw nothing: a device is told, a browser sent to the door."""
    return answer.status_code == 401 or (answer.status_code == 302 and answer["Location"].startswith("/sign-in/"))


@pytest.mark.parametrize("address", [one for one in ALL if one.name not in PUBLIC], ids=name_of)
def test_nobody_comes_in_without_signing_in(houses: Houses, address: Address) -> None:
    for method in METHODS:
        answer = answer_to_nobody(address, address.filled(houses.ours), method)
        assert is_kept_out(answer) or answer.status_code == 405, (method, answer.status_code)


def test_the_public_addresses_are_all_there() -> None:
    assert set(PUBLIC) <= {address.name for address in ALL}


@override_settings(ROOT_URLCONF="tests.architecture.unguarded_urls")
def test_an_unguarded_view_would_be_found_out(houses: Houses) -> None:
    bare, unknown, slug = addresses("tests.architecture.unguarded_urls")
    path = bare.filled(houses.theirs)
    assert set(answers_to_a_member(houses, bare, path).values()) == {200}
    assert not is_kept_out(answer_to_nobody(bare, path, "get"))
    for cannot_be_filled in (unknown, slug):
        with pytest.raises(LookupError):
            cannot_be_filled.filled(houses.theirs)
