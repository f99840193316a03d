"""The trail as its page lists it: who did what, when and from where, in a constant number of queries."""

from dataclasses import dataclass

from django.core.paginator import Page, Paginator

from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar
from curehouse.workshops.models import AuditEntry
from curehouse.workshops.queries import AuditEntryQuerySet

A_PAGE = 50


@dataclass(frozen=True, slots=True)
class TrailLine:
    """A deed as a line."""

    said: str
    href: str
    note: str
    when: str


def trail_page(visit: Visit, found: AuditEntryQuerySet, number: str | None) -> tuple[Page, list[TrailLine]]:
    """Return a page of what was found, in words."""
    calendar, page = Calendar(visit.workshop, visit.at), Paginator(found, A_PAGE).get_page(number)
    return page, [_line(entry, calendar) for entry in page]


def _line(entry: AuditEntry, calendar: Calendar) -> TrailLine:
    place = ", ".join(text for text in (entry.from_device, entry.from_address) if text)
    return TrailLine(
        said=entry.said,
        href=entry.address if entry.address.startswith("/") and not entry.address.startswith("/api/") else "",
        note=f"{entry.signed_by}, from {place}" if place else entry.signed_by,
        when=calendar.moment(entry.at),
    )
