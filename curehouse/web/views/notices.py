"""Notices: what stands, what was told before and how it went out."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from curehouse.notices.kinds import Kind
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import see_to, see_to_all
from curehouse.web.access import Visit, for_members
from curehouse.web.once import once
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.notices import fold, notice_rows
from curehouse.web.reading.words import count
from curehouse.workshops.roles import Right

A_PAGE = 30


@require_safe
@for_members(needs=Right.SEE)
def notices(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show the open notices, then the earlier ones page by page."""
    request.room = "notices"
    calendar = Calendar(visit.workshop, visit.at)
    ways = Prefetch("deliveries", Delivery.objects.within(visit.workshop).select_related("user").order_by("pk"))
    rows = Notice.objects.within(visit.workshop).newest_first().prefetch_related(ways)
    page = Paginator(rows.earlier(), A_PAGE).get_page(request.GET.get("page"))
    folds, standing = fold(notice_rows(rows.open() if page.number == 1 else [], calendar))
    context = {"standing": standing, "folds": folds, "earlier": notice_rows(page, calendar), "page": page}
    return render(request, "web/notices/notices.html", context)


@require_POST
@for_members(needs=Right.POUR)
def notice_done(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Mark a notice as seen to."""
    notice = Notice.objects.within(visit.workshop).get_here(pk, what="notice")

    def seen() -> str:
        see_to(actor=visit.actor, notice=notice, at=visit.at)
        messages.success(request, f"Seen to: {notice}.")
        return reverse("web:notices")

    return once(request, visit, seen)


@require_POST
@for_members(needs=Right.POUR)
def notices_folded_done(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Mark what stands together as seen to: the notices that stood on the page, not what came since."""
    shown = [int(text) for text in request.POST.getlist("notice") if text.isascii() and text.isdigit() and len(text) < 19]
    rows = list(Notice.objects.within(visit.workshop).open().that_fold().filter(pk__in=shown).order_by("pk"))

    def seen() -> str:
        ended = see_to_all(actor=visit.actor, notices=rows, at=visit.at)
        messages.success(request, f"Seen to: {_folded_words(rows, ended)}.")
        return reverse("web:notices")

    return once(request, visit, seen)


def _folded_words(rows: list[Notice], ended: int) -> str:
    if all(row.kind == Kind.WEIGH for row in rows):
        return f"{count(ended, 'batch', 'batches')} to weigh"
    return f"{count(ended, 'thing')} in the storeroom"
