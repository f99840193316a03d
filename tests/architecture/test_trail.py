"""Whatever can be done has its words in the trail: found in the URL table itself.

That a request which wrote something noted it once is held at every request of every test (tests/watch.py).
"""

import uuid

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory

from api.deeds import DEEDS as API_DEEDS
from curehouse.flows.deeds import WORDS
from curehouse.web.deeds import code_of
from curehouse.workshops.services import change_preferences
from curehouse.workshops.services.audit import note
from tests.architecture.addresses import Address, addresses
from tests.architecture.conftest import Houses
from tests.watch import WatchTheTrail

pytestmark = pytest.mark.django_db

PAGES = [one for one in addresses() if one.name.startswith("web:")]
API = [one for one in addresses() if one.name.startswith("api:") and one.name != "api:None" and "v1/" in one.route]
# They answer a POST as they answer a GET, and write nothing.
READS = {
    "web:today", "web:bench", "web:batch", "web:batch_verdict", "web:round", "web:round_end", "web:water_share",
    "web:workshop", "web:notices", "web:healthz", "web:workshops",
}  # fmt: skip
UNSAFE = ("post", "put", "patch", "delete")


def name_of(address: Address) -> str:
    return address.name


@pytest.mark.parametrize("address", PAGES, ids=name_of)
def test_a_page_that_takes_a_form_has_its_words(houses: Houses, address: Address) -> None:
    client = Client(raise_request_exception=False)
    client.force_login(houses.ours.owner)
    answer = client.post(address.filled(houses.ours), {"form_key": str(uuid.uuid4())})
    if answer.status_code != 405 and address.name not in READS:
        assert code_of(address.name.removeprefix("web:")) in WORDS


@pytest.mark.parametrize("address", API, ids=name_of)
def test_an_address_of_the_api_that_writes_has_its_words(address: Address) -> None:
    view = address.view.cls
    methods = [method.upper() for method in UNSAFE if method in view.http_method_names and hasattr(view, method)]
    for method in methods:
        assert API_DEEDS[method, address.name.removeprefix("api:")] in WORDS


def test_no_words_are_left_over() -> None:
    pages = {code_of(one.name.removeprefix("web:")) for one in PAGES}
    elsewhere = {"sign_in_half", "sign_in_wrong", "sign_in_code_wrong", "sign_in_recovery", "present_password_wrong"}
    elsewhere |= {"let_in", "mail_set_up", "mail_forget"}
    assert set(WORDS) - pages - set(API_DEEDS.values()) == elsewhere
    assert all(len(code) <= 40 for code in WORDS)


def watched(view: object, request: HttpRequest) -> HttpResponse:
    return WatchTheTrail(view)(request)


def test_the_watch_finds_a_write_that_nobody_noted_and_one_noted_twice(houses: Houses) -> None:
    world = houses.ours

    def write(_request: HttpRequest, times: int) -> HttpResponse:
        change_preferences(workshop=world.workshop, changes={"name": "Elsewhere"})
        for _ in range(times):
            note(actor=world.actor, code="preferences", said="Changed", at=world.now)
        return HttpResponse()

    request = RequestFactory().post("/")
    assert watched(lambda asked: write(asked, 1), request).status_code == 200
    for times in (0, 2):
        with pytest.raises(AssertionError, match=f"noted it {times} times"):
            watched(lambda asked, times=times: write(asked, times), request)
