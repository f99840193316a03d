"""The Bench: every batch, and where the next one is entered."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from curehouse.web.access import Visit, for_members
from curehouse.web.reading.bench import batch_page, last_ones
from curehouse.web.reading.pour_table import under_way
from curehouse.workshops.roles import Right

_LONGEST_SEARCH = 120


@for_members(needs=Right.SEE)
def bench(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the batches, those that still stand first."""
    request.room = "bench"
    search = " ".join(request.GET.get("q", "").replace("\x00", " ").split())[:_LONGEST_SEARCH]
    page, lines = batch_page(visit, search=search, number=request.GET.get("page"))
    shown = {"page": page, "batches": lines, "search": search, "last_ones": last_ones(visit), "pours": under_way(visit)}
    return render(request, "web/bench/bench.html", shown)
