"""What holds at every address of the URL table: no form of another site's, no frame, no host but the house's own."""

import re
import uuid
from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import reverse

from curehouse.workshops.models import AuditEntry
from curehouse.workshops.services import give_token
from tests.architecture.addresses import Address, addresses
from tests.architecture.conftest import Houses
from tests.everything import SCOPED

pytestmark = pytest.mark.django_db

ALL = addresses()
PAGES = [one for one in ALL if not one.is_api]
RESOURCES = [one for one in ALL if one.is_api and one.name != "api:None"]
CARELESS = {one.name: one for one in addresses("tests.security.careless_urls")}
UNSAFE = ("post", "put", "patch", "delete")
ELSEWHERE = "elsewhere.example"


def name_of(address: Address) -> str:
    return f"/{address.route}"


def filled(address: Address, houses: Houses) -> str:
    return "/api/nowhere/" if address.name == "api:None" else address.filled(houses.ours)


def person(houses: Houses, *, checks: bool = False) -> Client:
    client = Client(enforce_csrf_checks=checks, raise_request_exception=False)
    client.force_login(houses.ours.owner)
    return client


def rows(houses: Houses) -> list[list[dict]]:
    return [list(model.unscoped.filter(workshop=houses.ours.workshop).order_by("pk").values()) for model in SCOPED]


# --- forged requests


def let_through(address: Address, houses: Houses, client: Client, **headers: str) -> dict[str, int]:
    """Return what was not refused of the requests another site would have a browser send."""
    found = {}
    for method in UNSAFE:
        sent = {"form_key": str(uuid.uuid4())} if method == "post" and not address.is_api else None
        kind = {} if sent else {"content_type": "application/json", "data": "{}"}
        answer = getattr(client, method)(filled(address, houses), **({"data": sent} if sent else kind), headers=headers)
        if answer.status_code not in (403, 405):
            found[method] = answer.status_code
    return found


@pytest.mark.parametrize("address", PAGES, ids=name_of)
def test_no_page_does_what_a_form_without_its_token_asks(address: Address, houses: Houses) -> None:
    before = rows(houses)
    for client in (person(houses, checks=True), Client(enforce_csrf_checks=True, raise_request_exception=False)):
        assert let_through(address, houses, client) == {}
    assert rows(houses) == before


@pytest.mark.parametrize("address", PAGES, ids=name_of)
def test_nor_with_the_token_of_another_browser_or_from_another_site(address: Address, houses: Houses) -> None:
    ours, theirs = person(houses, checks=True), Client()
    ours.get("/you/"), theirs.get("/sign-in/")
    planted = theirs.cookies["csrftoken"].value
    assert let_through(address, houses, ours, **{"X-CSRFToken": planted}) == {}
    own = ours.cookies["csrftoken"].value
    assert let_through(address, houses, ours, **{"X-CSRFToken": own, "Origin": f"https://{ELSEWHERE}"}) == {}


@pytest.mark.parametrize("address", RESOURCES, ids=name_of)
def test_no_resource_does_what_a_browser_is_made_to_ask_elsewhere(address: Address, houses: Houses) -> None:
    before = rows(houses)
    assert let_through(address, houses, person(houses, checks=True)) == {}
    assert rows(houses) == before


def test_a_page_that_takes_forged_forms_is_found_out(houses: Houses) -> None:
    with override_settings(ROOT_URLCONF="tests.security.careless_urls"):
        client = person(houses, checks=True)
        for name in (":forged", ":resource"):
            assert let_through(CARELESS[name], houses, client)["post"] == 200
        assert let_through(CARELESS[":framed"], houses, client) == {}


def test_with_its_own_token_a_form_is_done(houses: Houses) -> None:
    """The control: what is refused above is refused for its token."""
    client = person(houses, checks=True)
    client.get("/you/")
    sent = {"workshop": str(houses.ours.workshop.pk), "csrfmiddlewaretoken": client.cookies["csrftoken"].value}
    assert client.post(reverse("web:workshops"), sent).status_code == 302


# --- what an answer says beside its content


def unguarded(answer: HttpResponse) -> list[str]:
    """Return what an answer leaves open."""
    policy = answer.get("Content-Security-Policy", "")
    wanted: dict[str, Callable[[], bool]] = {
        "frames": lambda: answer.get("X-Frame-Options") == "DENY",
        "frames by policy": lambda: "frame-ancestors 'none'" in policy or "sandbox" in policy,
        "policy": lambda: "default-src 'none'" in policy,
        "sniffing": lambda: answer.get("X-Content-Type-Options") == "nosniff",
        "referrer": lambda: answer.get("Referrer-Policy") in ("same-origin", "strict-origin", "no-referrer"),
        "openers": lambda: answer.get("Cross-Origin-Opener-Policy") == "same-origin",
        "resources": lambda: answer.get("Cross-Origin-Resource-Policy") == "same-origin",
        "keeping": lambda: "no-store" in answer.get("Cache-Control", ""),
        "type": lambda: not answer.content or bool(answer.get("Content-Type")),
    }  # fmt: skip
    open_to_all = answer.get("Access-Control-Allow-Origin")
    cookies = [
        name
        for name, cookie in answer.cookies.items()
        if cookie.value and (cookie["samesite"] not in ("Lax", "Strict") or (name != "csrftoken" and not cookie["httponly"]))
    ]
    return [what for what, holds in wanted.items() if not holds()] + cookies + ([open_to_all] if open_to_all else [])


def read(answer: HttpResponse) -> HttpResponse:
    return HttpResponse(answer.getvalue(), status=answer.status_code, headers=answer.headers) if answer.streaming else answer


@pytest.mark.parametrize("address", ALL, ids=name_of)
def test_no_answer_can_be_framed_sniffed_or_kept(address: Address, houses: Houses) -> None:
    path = filled(address, houses)
    for client in (person(houses), Client(raise_request_exception=False)):
        for answer in (
            client.get(path),
            client.post(path, {}),
            client.options(path),
            client.get(path, headers={"Host": ELSEWHERE}),
        ):
            assert unguarded(read(answer)) == [], (answer.request["REQUEST_METHOD"], answer.status_code)


def test_an_answer_that_can_be_framed_is_found_out(houses: Houses) -> None:
    with override_settings(ROOT_URLCONF="tests.security.careless_urls"):
        assert {"frames", "frames by policy", "policy"} <= set(unguarded(person(houses).get("/framed/")))


# --- the house's own name


def believed(address: Address, houses: Houses) -> list[str]:
    """Return the headers by which a request could say that the house is called otherwise."""
    path, client = filled(address, houses), person(houses)
    said = {
        "X-Forwarded-Host": ELSEWHERE,
        "X-Host": ELSEWHERE,
        "X-Forwarded-Server": ELSEWHERE,
        "X-Original-URL": f"https://{ELSEWHERE}/",
        "X-Rewrite-URL": f"https://{ELSEWHERE}/",
        "Forwarded": f"host={ELSEWHERE}",
        "Referer": f"https://{ELSEWHERE}/",
        "HX-Current-URL": f"https://{ELSEWHERE}/",
    }
    found = []
    for name, value in said.items():
        answer = read(client.get(path, headers={name: value}))
        if ELSEWHERE.encode() in answer.content or ELSEWHERE in str(answer.headers):
            found.append(name)
    return found


@pytest.mark.parametrize("address", ALL, ids=name_of)
def test_no_answer_believes_what_a_request_says_the_house_is_called(address: Address, houses: Houses) -> None:
    assert believed(address, houses) == []


@pytest.mark.parametrize(
    "host",
    [
        *(ELSEWHERE, f"testserver.{ELSEWHERE}", f"testserver@{ELSEWHERE}", f"{ELSEWHERE}#testserver", "testserver:80@x"),
        *(f"{ELSEWHERE}/testserver", "", "testserver\x00", "testserver:evil", "[::1]evil", "127.0.0.1.nip.io"),
    ],
)
@pytest.mark.parametrize("path", ["/", "/sign-in/", "/join/?invitation=x", "/api/v1/batches/", "/healthz", "/no-such-page/"])
def test_the_house_answers_under_its_own_names_only(path: str, host: str, houses: Houses) -> None:
    answer = person(houses).get(path, headers={"Host": host})
    assert answer.status_code == 400
    assert not host or host.encode() not in answer.content


def test_an_address_that_believes_it_is_found_out(houses: Houses) -> None:
    with override_settings(ROOT_URLCONF="tests.security.careless_urls"):
        assert believed(CARELESS[":echoed"], houses) == ["X-Forwarded-Host"]


def test_a_link_that_is_passed_on_leads_to_the_house_itself(houses: Houses) -> None:
    client = person(houses)
    sent = {"form_key": str(uuid.uuid4()), "role": "maker", "email": ""}
    page = client.post(reverse("web:invite"), sent, headers={"X-Forwarded-Host": ELSEWHERE}, follow=True)
    link = re.search(r"https?://[^\"'<\s]+/join/\?invitation=", page.content.decode())
    assert link is not None
    assert link[0].startswith("http://testserver/join/")


# --- a device's token


def test_a_token_in_an_address_or_a_cookie_lets_nobody_in(houses: Houses) -> None:
    _token, secret = give_token(actor=houses.ours.actor, name="Rack tablet", reach="works", at=houses.ours.now)
    client = Client()
    client.cookies["Authorization"] = client.cookies["token"] = secret
    for query in ("token", "access_token", "key", "Authorization"):
        assert client.get("/api/v1/batches/", {query: secret}).status_code == 401
    assert not AuditEntry.objects.within(houses.ours.workshop).filter(said__contains=secret).exists()
