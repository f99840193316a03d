"""No address of the house sends a browser to another: tried at every page, and watched in every test there is."""

import re
import uuid
from urllib.parse import quote, unquote, urljoin, urlsplit

import pytest
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.test import Client, RequestFactory
from django.urls import reverse

from curehouse.web.next_page import address_with_way_back, next_page
from tests.architecture.addresses import Address, addresses
from tests.architecture.conftest import Houses
from tests.watch import WatchTheWayOut
from tests.world import PASSWORD

pytestmark = pytest.mark.django_db

HOME = "http://testserver/"
PAGES = [one for one in addresses() if not one.is_api]
ELSEWHERE = [
    "https://elsewhere.example/",
    "//elsewhere.example/",
    "///elsewhere.example",
    "////elsewhere.example",
    "/\\elsewhere.example",
    "\\\\elsewhere.example",
    "\\/elsewhere.example",
    "/\t/elsewhere.example",
    "/\n/elsewhere.example",
    "\t//elsewhere.example",
    " //elsewhere.example",
    "\x00//elsewhere.example",
    "\x01https://elsewhere.example",
    "http:elsewhere.example",
    "http:///elsewhere.example",
    "https:/elsewhere.example",
    "hTTps://elsewhere.example",
    "http://testserver@elsewhere.example/",
    "http://testserver.elsewhere.example/",
    "http://elsewhere.example\\@testserver/",
    "http://elsewhere.example#@testserver/",
    "http://[::1]:80@elsewhere.example/",
    "//elsewhere\u3002example/",
    "javascript:alert(1)",
    "JaVaScRiPt:alert(1)",
    "java\tscript:alert(1)",
    "data:text/html,<script>alert(1)</script>",
    "vbscript:x",
    "/\r\nLocation: https://elsewhere.example",
]


def as_a_browser_follows(location: str) -> str:
    """Return where a browser would go: it strips ends, drops tabs and breaks, and reads \\ as / (WHATWG URL, 4.4)."""
    plain = location.strip("".join(map(chr, range(33))))
    plain = "".join(one for one in plain if one not in "\t\r\n").replace("\\", "/")
    # As many slashes as there are, two are meant; so they are behind a scheme that is followed by none.
    plain = re.sub(r"^//+", "//", re.sub(r"(?i)^(https?):/*", r"\1://", plain))
    return urljoin(HOME, plain)


def is_here(location: str) -> bool:
    try:
        parts = urlsplit(as_a_browser_follows(location))
    except ValueError:
        # Some releases of Python refuse what a browser still follows.
        return False
    return (parts.scheme, parts.netloc) == ("http", "testserver")


@pytest.mark.parametrize("location", [one for one in ELSEWHERE if not one.startswith("/\r\n")], ids=ascii)
def test_what_leads_elsewhere_is_known(location: str) -> None:
    """The control of the tests beneath: to a browser none of these is a page of the house."""
    assert not is_here(location)


@pytest.mark.parametrize("wanted", ELSEWHERE, ids=ascii)
def test_next_leads_to_a_page_of_the_house_or_home(wanted: str) -> None:
    for request in (RequestFactory().get("/", {"next": wanted}), RequestFactory().post("/", {"next": wanted})):
        found = next_page(request, otherwise="/home/")
        assert found == "/home/" or is_here(HttpResponseRedirect(found)["Location"])


@pytest.mark.parametrize("wanted", ["/racks/", "/batches/1/?page=2", "/racks/#level-2", "http://testserver/racks/"])
def test_next_leads_where_it_says_within_the_house(wanted: str) -> None:
    assert next_page(RequestFactory().get("/", {"next": wanted}), otherwise="/home/") == wanted
    assert unquote(address_with_way_back("web:sign_in", back=wanted)) == f"/sign-in/?next={wanted}"


@pytest.mark.parametrize("wanted", ELSEWHERE, ids=ascii)
def test_signing_in_leads_to_no_other_house(houses: Houses, wanted: str) -> None:
    sent = {"email": houses.ours.owner.email, "password": PASSWORD}
    page = f"{reverse('web:sign_in')}?next={quote(wanted)}"
    for answer in (Client().post(page, sent), Client().post(reverse("web:sign_in"), {**sent, "next": wanted})):
        assert answer.status_code == 302
        assert is_here(answer["Location"])
    there = Client()
    there.force_login(houses.ours.owner)
    assert is_here(there.get(page)["Location"])


@pytest.mark.parametrize("address", PAGES, ids=lambda one: f"/{one.route}")
def test_no_page_leads_to_another_house_whatever_it_is_asked(address: Address, houses: Houses) -> None:
    """By any name a page could take it under, and by what a browser says of where it comes from."""
    path, away = address.filled(houses.ours), ELSEWHERE[1]
    asked = dict.fromkeys(("next", "back", "url", "to", "return", "redirect", "path", "origin", "from", "like", "q"), away)
    client = Client(raise_request_exception=False, headers={"Referer": ELSEWHERE[0], "HX-Current-URL": ELSEWHERE[0]})
    client.force_login(houses.ours.owner)
    for answer in (client.get(path, asked), client.post(f"{path}?next={away}", {"form_key": str(uuid.uuid4()), **asked})):
        for header in ("Location", "HX-Redirect", "HX-Location", "Refresh"):
            assert header not in answer or is_here(answer[header]), (header, answer[header])
        if "text/html" in answer.get("Content-Type", ""):
            assert b'href="//elsewhere' not in answer.content
            assert b'action="//elsewhere' not in answer.content


def test_a_redirect_that_leads_away_is_found_out_in_any_test() -> None:
    def leads_away(_request: HttpRequest) -> HttpResponse:
        return HttpResponseRedirect("https://elsewhere.example/")

    with pytest.raises(AssertionError, match="leads away"):
        WatchTheWayOut(leads_away)(RequestFactory().get("/"))
