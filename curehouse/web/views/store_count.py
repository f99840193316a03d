"""The store count: shelf after shelf, lot after lot, by phone; by one or by several."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from curehouse.common.errors import DomainError
from curehouse.flows.stock import count, end_store_count
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.counting import REASONS, CountForm
from curehouse.web.once import once
from curehouse.web.reading.amounts import moved_words, roughly
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.store_count import read_begun, read_summary, read_walk
from curehouse.workshops.roles import Right
from inventory.models import Lot, StoreCount
from inventory.services.movements import Counted
from inventory.services.recounts import newest_count


def _onwards(visit: Visit, pk: int) -> str:
    """Return the address of the next lot to count, or of what the count came to."""
    walk = read_walk(visit)
    following = walk.after(pk)
    if walk.under_way is None or following is None:
        return reverse("web:store_count_end")
    return reverse("web:lot_walk", args=[following])


def count_form(request: HttpRequest, visit: Visit, row: Lot, *, store_count: int | None = None) -> CountForm:
    """Return the form of a lot's count, with the newest count that its reader can know of."""
    shown = {"seen": newest_count(row) or None, "store_count": store_count}
    return CountForm(
        request.POST or None, workshop=visit.workshop, material=row.material, at=visit.at, initial=shown
    )  # fmt: skip


def counted_by(visit: Visit, row: Lot, form: CountForm, *, on_walk: bool = False) -> Counted:
    """Book what was typed; what is asked about is known to the page that asks."""
    try:
        return count(actor=visit.actor, lot=row, at=visit.at, on_walk=on_walk, **form.found())
    except DomainError as error:
        raise form.ask(error) from error


def counted_said(visit: Visit, row: Lot, found: Counted) -> str:
    """Return what a count came to."""
    by_eye = found.count.is_estimate
    if found.moved is None:
        return f"{row}: by eye it may be what is booked, which stays." if by_eye else f"{row}: counted as booked."
    moved = moved_words(found.moved.amount, row.material, visit.workshop.unit)
    return f"{row}: {roughly(moved, is_estimate=by_eye)}{', judged by eye' if by_eye else ''}."


@require_safe
@for_members(needs=Right.SEE)
def store_count(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show the count that is under way, shelf by shelf, and those that were."""
    request.room = "storeroom"
    return render(request, "web/storeroom/store_count.html", {"view": read_begun(visit)})


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.COUNT)
def lot_walk(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Count one lot, then go on; what is booked is not shown before that."""
    request.room = "storeroom"
    row = Lot.objects.within(visit.workshop).named().get_here(pk, what="lot")
    walk = read_walk(visit)
    form = count_form(request, visit, row, store_count=walk.under_way and walk.under_way.pk)

    def work() -> str:
        messages.success(request, counted_said(visit, row, counted_by(visit, row, form, on_walk=True)))
        return _onwards(visit, pk)

    answer = done_once(request, visit, form, work)
    if answer:
        return answer
    following, by = walk.after(pk), walk.counted.get(pk)
    shown = {
        "form": form, "lot": row, "reasons": REASONS, "counted": len(walk.counted), "of": len(walk.lots),
        "is_under_way": walk.under_way is not None,
        "by": by, "by_when": by and Calendar(visit.workshop, visit.at).moment(by.written_at),
        "onwards": reverse("web:lot_walk", args=[following]) if following else reverse("web:store_count_end"),
    }  # fmt: skip
    return render(request, "web/storeroom/lot_walk.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.SEE, to_write=Right.COUNT)
def store_count_end(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Say what the count that is under way came to so far, or the last one; end it before all is counted."""
    request.room = "storeroom"
    counts = StoreCount.objects.within(visit.workshop).select_related("by_user", "by_device")
    row = counts.under_way().first() or counts.newest_first().first()
    if request.method == "POST":
        key = request.POST.get("store_count", "")
        meant = counts.get_here(int(key) if key.isdecimal() and len(key) < 19 else 0, what="store count")

        def work() -> str:
            end_store_count(actor=visit.actor, store_count=meant, at=visit.at)
            return reverse("web:store_count_was", args=[meant.pk])

        return once(request, visit, work)
    return render(request, "web/storeroom/store_count_end.html", {"view": read_summary(visit, row)})


@require_safe
@for_members(needs=Right.SEE)
def store_count_was(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say what one store count came to."""
    request.room = "storeroom"
    rows = StoreCount.objects.within(visit.workshop).select_related("by_user", "by_device")
    row = rows.get_here(pk, what="store count")
    return render(request, "web/storeroom/store_count_end.html", {"view": read_summary(visit, row)})
