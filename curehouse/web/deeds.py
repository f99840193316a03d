"""What is done at a page is noted, once, in the transaction that does it."""

from collections.abc import Callable, Mapping
from datetime import datetime
from types import MappingProxyType
from urllib.parse import urlsplit

from django.db import transaction
from django.http import HttpRequest
from django.urls import Resolver404, ResolverMatch, resolve, reverse

from curehouse.common.visitors import origin_of
from curehouse.curing.models import Reading
from curehouse.flows.deeds import sentence
from curehouse.flows.named import name_of, word_of
from curehouse.web.access import Visit
from curehouse.web.next_page import next_page
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import User, Workshop
from curehouse.workshops.services.audit import note, note_of_person

# The deed of a page by its route, where it is not called like the route.
DEEDS: Mapping[str, str] = MappingProxyType(
    {
        "devices": "device_add",
        "import": "import_check",
        "imports": "import_lay_out",
        "lot_walk": "lot_count",
        "offer": "offer_change",
        "market": "market_change",
        "markets": "market_new",
        "notices_folded_done": "notices_done",
        "pour": "pour_step",
        "position_place": "batch_place",
        "rack": "rack_change",
        "room": "room_change",
        "rooms": "room_new",
        "reading_take": "reading_correct",
        "round_bar": "weigh",
        "round_gone": "bar_gone",
        "scale": "scale_check",
        "scale_tares": "tare_add",
        "scales": "scale_add",
        "second_step": "second_step_on",
        "sign_in_code": "sign_in",
        "supplier": "supplier_edit",
        "turning": "batches_turn",
        "suppliers": "supplier_new",
    }
)


def code_of(route_name: str) -> str:
    """Return what is done at a page."""
    return DEEDS.get(route_name, route_name)


def note_deed(request: HttpRequest, visit: Visit, *, location: str = "", about: str = "") -> None:
    """Note what *request* did; *location* is where it leads, *about* says more than the thing's name.

    The thing is the one in the page's address, or else the one it leads to: what was just made.
    """
    # Where whoever sent it asked to be led is no word on what was done: it may name somebody's page.
    page = "" if location and location == next_page(request, otherwise="") else urlsplit(location).path
    match = request.resolver_match
    code = code_of(match.url_name)
    said = about or _named(visit.workshop, match, page) or request.POST.get("name", "")
    note(
        actor=visit.actor,
        code=code,
        said=sentence(code, said),
        address=page or request.path,
        origin=origin_of(request.META),
        at=visit.at,
    )


def noted_if_new(request: HttpRequest, visit: Visit, work: Callable[[], Reading]) -> Reading:
    """Do *work*, which writes a weighing or finds that it was sent before; note it where it was written."""
    with transaction.atomic():
        reading = work()
        if reading.received_at == visit.at:
            note_deed(request, visit, location=reverse("web:batch", args=[reading.bar.batch_id]))
    return reading


def note_person(request: HttpRequest, person: User, code: str, *, at: datetime, about: str = "") -> None:
    """Note what concerns *person* in each of their workshops."""
    note_of_person(person=person, code=code, said=sentence(code, about), origin=origin_of(request.META), at=at)


def note_in(request: HttpRequest, workshop: Workshop, person: User, code: str, *, at: datetime, about: str = "") -> None:
    """Note what *person*, who is on no visit yet, did in *workshop*."""
    actor = Actor(workshop=workshop, user=person)
    note(actor=actor, code=code, said=sentence(code, about), origin=origin_of(request.META), at=at)


def _named(workshop: Workshop, asked: ResolverMatch, page: str) -> str:
    for match in (asked, _match_of(page)):
        if match is not None and "pk" in match.kwargs:
            return name_of(workshop, word_of(match.route), match.kwargs["pk"])
    return ""


def _match_of(page: str) -> ResolverMatch | None:
    try:
        return resolve(page)
    except Resolver404:
        # A person may be led on to wherever they came from.
        return None
