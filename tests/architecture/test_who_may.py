"""Who may do what, tried at every address there is: as each kind of person and device, at home and next door."""

import re
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.http import HttpResponse
from django.test import Client, override_settings
from rest_framework.response import Response

from api.views import WorkshopView
from curehouse.workshops.models import Member, User
from curehouse.workshops.roles import OF_REACH, OF_ROLE, Reach, Right, Role
from curehouse.workshops.services import give_token
from tests.architecture.addresses import Address, addresses
from tests.architecture.conftest import Houses
from tests.architecture.test_strangers import PUBLIC, is_kept_out

pytestmark = pytest.mark.django_db

# Not of one workshop: who is signed in or holds a token sees them, whatever they may do.
OF_NO_WORKSHOP = {
    "web:sign_out": "whoever is signed in may leave",
    "api:docs": "it says how the API is used, and nothing of the house",
}
READING, SENDING = ("get",), ("post", "put", "patch", "delete")
GUARDED = [one for one in addresses() if one.name not in PUBLIC | OF_NO_WORKSHOP]


def name_of(address: Address) -> str:
    return f"/{address.route}"


def rights_of(address: Address) -> tuple[Right, Right]:
    """Return what a view says it asks of whoever looks, and of whoever sends; raises LookupError where it says nothing."""
    view = address.view
    if hasattr(view, "guarded_by"):
        return view.guarded_by
    resource = getattr(view, "cls", None)
    if resource is None or not hasattr(resource, "reads"):
        raise LookupError(f"/{address.route}: who may use it? Guard it.")
    return resource.reads, getattr(resource, "writes", resource.reads)


@dataclass(frozen=True)
class Caller:
    """Somebody at the door, with what they may do."""

    name: str
    rights: frozenset[Right]
    client: Client

    def ask(self, method: str, path: str, *, is_api: bool) -> HttpResponse | Response:
        if is_api:
            return getattr(self.client, method)(path, data=None if method == "get" else {}, content_type="application/json")
        if method == "post":
            return self.client.post(path, {"form_key": str(uuid.uuid4())})
        return getattr(self.client, method)(path)


def person(houses: Houses, role: str) -> Caller:
    user = User.objects.create(email=f"{role}@matrix.example", name=role.title(), joined_at=houses.ours.now)
    Member.unscoped.create(workshop=houses.ours.workshop, user=user, role=role, joined_at=houses.ours.now)
    client = Client(raise_request_exception=False)
    client.force_login(user)
    return Caller(role, OF_ROLE[role], client)


def device(houses: Houses, reach: str) -> Caller:
    _token, secret = give_token(actor=houses.ours.actor, name=f"{reach} matrix", reach=reach, at=houses.ours.now)
    client = Client(raise_request_exception=False, headers={"Authorization": f"Bearer {secret}"})
    return Caller(reach, OF_REACH[reach], client)


def callers(houses: Houses, address: Address) -> Iterator[Caller]:
    for role in Role.values:
        yield person(houses, role)
    if address.is_api:
        for reach in Reach.values:
            yield device(houses, reach)


def expected(address: Address, caller: Caller, method: str, *, is_own: bool) -> str:
    """Return what is to happen: let in, kept out (403), or told that nothing is there (404)."""
    look, send = rights_of(address)
    wanted = {look} if method in READING else {look, send}
    if not wanted <= caller.rights:
        return "403"
    return "in" if is_own else "404"


def seen(answer: HttpResponse) -> str:
    return str(answer.status_code) if answer.status_code in (401, 403, 404) or answer.status_code >= 500 else "in"


@pytest.mark.parametrize("address", GUARDED, ids=name_of)
def test_everybody_may_do_what_their_role_says_and_nothing_else(houses: Houses, address: Address) -> None:
    wrong = []
    asked = 0
    for caller in callers(houses, address):
        for is_own in (False, True) if address.has_ids else (True,):
            path = address.filled(houses.ours if is_own else houses.theirs)
            # What sends comes last: it may end the very row that is looked at.
            for method in READING + SENDING:
                answer = caller.ask(method, path, is_api=address.is_api)
                if answer.status_code == 405:
                    continue
                asked += 1
                meant, found = expected(address, caller, method, is_own=is_own), seen(answer)
                if found == "404" and not address.has_ids:
                    # What is not there was named in what was sent.
                    found = "in"
                if found != meant:
                    wrong.append((caller.name, method, "own" if is_own else "foreign", f"{found} instead of {meant}"))
    assert asked
    assert wrong == []


@pytest.mark.parametrize("address", GUARDED, ids=name_of)
def test_a_person_of_the_house_next_door_gets_no_row_of_ours(houses: Houses, address: Address) -> None:
    if not address.has_ids:
        rights_of(address)
        return
    client = Client(raise_request_exception=False)
    client.force_login(houses.theirs.owner)
    stranger = Caller("stranger", OF_ROLE[Role.OWNER], client)
    answers = {
        method: stranger.ask(method, address.filled(houses.ours), is_api=address.is_api).status_code
        for method in READING + SENDING
    }
    assert set(answers.values()) <= {404, 405}, answers


def test_the_rights_of_a_role_hold_what_a_workshop_relies_on() -> None:
    assert Right.SEE_COSTS not in OF_ROLE[Role.HELPER]
    assert {Right.WEIGH, Right.COUNT, Right.POUR} <= OF_ROLE[Role.HELPER]
    writing = {Right.WEIGH, Right.COUNT, Right.POUR, Right.MAKE, Right.KEEP_HOUSE}
    assert not OF_ROLE[Role.READER] & writing
    assert OF_REACH[Reach.WEIGHS] == {Right.SEE_ROUND, Right.WEIGH}
    assert all(rights < OF_ROLE[Role.OWNER] for rights in OF_REACH.values())


def test_the_guide_tells_how_much_is_tried() -> None:
    """The guide may lag behind by a few addresses, not by more."""
    guide = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
    said = re.search(r"(\d+) addresses of pages and (\d+) of the API", guide)
    assert said is not None
    kinds = Counter("api" if one.is_api else "page" for one in GUARDED)
    for told, there in zip(map(int, said.groups()), (kinds["page"], kinds["api"]), strict=True):
        assert 0.9 * there <= told <= there


@override_settings(ROOT_URLCONF="tests.architecture.unguarded_urls")
def test_an_unguarded_view_is_found_out(houses: Houses) -> None:
    bare = addresses("tests.architecture.unguarded_urls")[0]
    with pytest.raises(LookupError, match="who may use it"):
        rights_of(bare)
    # And if it claimed a guard that it does not have, the answers would give it away.
    helper = person(houses, Role.HELPER)
    assert not is_kept_out(Client().get(bare.filled(houses.ours)))
    assert seen(helper.ask("get", bare.filled(houses.theirs), is_api=False)) == "in"


def test_a_resource_that_does_not_say_who_may_use_it_does_not_load() -> None:
    class Unguarded(WorkshopView):
        reads = Right.SEE

        def post(self, request: Any) -> Response:
            return Response()

    with pytest.raises(ImproperlyConfigured, match="writes"):
        Unguarded.as_view()
