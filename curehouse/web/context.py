"""What every page shows around its own content."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject

from curehouse.notices.models import Notice
from curehouse.web.once import new_key


@dataclass(frozen=True, slots=True)
class Room:
    """A room of the house, as the navigation shows it."""

    name: str
    url: str
    icon: str
    current: bool


_ROOMS = (
    ("Today", "web:today", "today"),
    ("Bench", "web:bench", "bench"),
    ("Racks", "web:racks", "racks"),
    ("Storeroom", "web:storeroom", "storeroom"),
)


def frame(request: HttpRequest) -> dict[str, Any]:
    """Return the rooms, the workshop and the number of things open notices ask for; nothing for a stranger."""
    visit = getattr(request, "visit", None)
    nonce = str(getattr(request, "csp_nonce", ""))
    if visit is None:
        return {"form_key": new_key(), "csp_nonce": nonce}

    here = getattr(request, "room", "")
    return {
        "workshop": visit.workshop,
        "workshop_name": visit.workshop.name,
        "member": visit.member,
        # What the member cannot do is not offered: {% if may.pour %}.
        "may": dict.fromkeys(visit.rights, True),
        "rooms": [Room(name, reverse(url), icon, current=here == icon) for name, url, icon in _ROOMS],
        # A fragment of a page shows no count, so it does not ask for one.
        "open_notice_count": SimpleLazyObject(Notice.objects.within(visit.workshop).open().things),
        "notices_url": reverse("web:notices"),
        "notices_current": here == "notices",
        "account_url": reverse("web:workshop"),
        "form_key": new_key(),
        "csp_nonce": nonce,
    }
