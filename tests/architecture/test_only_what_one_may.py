"""No page offers a link or a form to somebody whom it would then refuse."""

from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import Resolver404, resolve

from curehouse.workshops.roles import OF_ROLE, Right, Role
from tests.architecture.addresses import Address
from tests.architecture.conftest import Houses
from tests.architecture.test_who_may import GUARDED, name_of, person, rights_of

pytestmark = pytest.mark.django_db

PAGES = [one for one in GUARDED if not one.is_api]


class Offers(HTMLParser):
    """What a page offers: links to follow and forms to send."""

    def __init__(self, path: str) -> None:
        super().__init__()
        self._path = path
        self.found: set[tuple[str, bool]] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        if tag == "a" and (href := told.get("href")):
            self._note(href, sends=False)
        elif tag == "form":
            self._note(told.get("action") or self._path, sends=told.get("method") == "post")

    def _note(self, href: str, *, sends: bool) -> None:
        path = href.split("?")[0].split("#")[0]
        if path.startswith("/") and not path.startswith("//"):
            self.found.add((path, sends))


def needed(path: str, *, sends: bool) -> Right | None:
    try:
        match = resolve(path)
    except Resolver404:
        return None
    try:
        return rights_of(Address(match.route, match.view_name, match.func))[sends]
    except LookupError:
        return None


@pytest.mark.parametrize("role", [Role.MAKER, Role.HELPER, Role.READER])
def test_a_page_offers_only_what_its_reader_may_do(houses: Houses, role: str) -> None:
    client: Client = person(houses, role).client
    wrong, pages, offered = [], 0, 0
    for address in PAGES:
        path = address.filled(houses.ours)
        answer = client.get(path)
        if answer.status_code != 200 or "text/html" not in answer.headers.get("Content-Type", ""):
            continue
        pages += 1
        offers = Offers(path)
        offers.feed(answer.content.decode())
        for where, sends in sorted(offers.found):
            right = needed(where, sends=sends)
            offered += right is not None
            if right is not None and right not in OF_ROLE[role]:
                wrong.append(f"{name_of(address)} offers {'to send ' if sends else ''}{where}, which needs {right}")
    assert pages > 15
    assert offered > 100
    assert not wrong, "\n".join(wrong)
