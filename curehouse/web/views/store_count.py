"""The store count: one lot after another, by phone."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from curehouse.flows.stock import count
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.lot import CountForm
from curehouse.web.reading.amounts import moved_words
from curehouse.web.reading.store_count import read_summary, read_walk
from curehouse.workshops.roles import Right
from inventory.models import Lot


def _onwards(visit: Visit, pk: int) -> str:
    """Return the address of the next lot to count, or of the end."""
    following = read_walk(visit).after(pk)
    return reverse("web:store_count_end") if following is None else reverse("web:lot_walk", args=[following])


@require_safe
@for_members(needs=Right.COUNT)
def store_count(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Go to the first lot that was not counted today."""
    left = read_walk(visit).left
    return redirect(reverse("web:lot_walk", args=[left[0]]) if left else reverse("web:store_count_end"))


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.COUNT)
def lot_walk(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Count one lot, then go on; what is booked is not shown before that."""
    request.room = "storeroom"
    row = Lot.objects.within(visit.workshop).named().get_here(pk, what="lot")
    form = CountForm(request.POST or None, workshop=visit.workshop, material=row.material)

    def work() -> str:
        values = form.cleaned_data
        counted = count(
            actor=visit.actor, lot=row, counted=values["amount"], reason=values["reason"], moment=visit.at, at=visit.at
        )  # fmt: skip
        moved = counted.moved
        said = "counted as booked" if moved is None else moved_words(moved.amount, row.material, visit.workshop.unit)
        messages.success(request, f"{row}: {said}.")
        return _onwards(visit, pk)

    answer = done_once(request, visit, form, work)
    if answer:
        return answer
    # Where the count differs, why is asked for.
    form.fields["reason"].required = form.has_error("reason")
    walk = read_walk(visit)
    shown = {"form": form, "lot": row, "number": walk.place(pk), "of": len(walk.lots), "is_counted": pk in walk.counted}
    return render(request, "web/storeroom/lot_walk.html", shown | {"onwards": _onwards(visit, pk)})


@require_safe
@for_members(needs=Right.COUNT)
def store_count_end(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Say what today's count came to."""
    request.room = "storeroom"
    return render(request, "web/storeroom/store_count_end.html", {"view": read_summary(visit)})
