"""What every page shows around its own content."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from curehouse.notices.models import Notice
from curehouse.web.once import new_key


@dataclass(frozen=True, slots=True)
class Room:
    """A room of the house, as the navigation shows it."""

    name: str
    url: str
    icon: str
    current: bool


_ROOMS = (("Today", "web:today", "today"), ("Bench", "web:bench", "bench"), ("Racks", "web:racks", "racks"))


def frame(request: HttpRequest) -> dict[str, Any]:
    """Return the rooms, the workshop and the number of open notices; nothing for a stranger."""
    visit = getattr(request, "visit", None)
    if visit is None:
        return {"form_key": new_key()}

    return {
        "workshop": visit.workshop,
        "member": visit.member,
        "rooms": [Room(name, reverse(url), icon, current=getattr(request, "room", "") == icon) for name, url, icon in _ROOMS],
        "open_notice_count": Notice.objects.within(visit.workshop).open().count(),
        "form_key": new_key(),
    }
