"""Runs laid side by side: which of them to plan."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.common.errors import DomainError
from curehouse.flows.plan_ahead import plan_ahead
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import Formula
from curehouse.web.access import Visit, for_members
from curehouse.web.errors import add_to_form
from curehouse.web.forms.compare import MOST, CompareRow, WantedForm
from curehouse.web.reading.compare import Compared, read_compared
from curehouse.web.reading.plan import AskedPlan
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def compare_runs(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Lay up to four runs side by side, each as if it alone were planned; nothing is kept."""
    request.room = "bench"
    sent = request.GET if request.GET else None
    formulas = _formulas(visit)
    wanted = WantedForm(sent)
    rows = [CompareRow(sent, number=number, formulas=formulas, unit=visit.workshop.unit) for number in range(MOST)]
    found: list[Compared] = []
    # All of them are read, so that each says what is wrong with it.
    if sent is not None and all([wanted.is_valid(), *(row.is_valid() for row in rows)]):
        found = [one for one in (_look(visit, row, wanted) for row in rows if row.is_asked) if one is not None]
    return render(request, "web/runs/compare.html", {"wanted": wanted, "rows": rows, "found": found})


def _formulas(visit: Visit) -> list[tuple[str, str]]:
    """Return the formulas in use by the version that is in force."""
    rows = Formula.objects.within(visit.workshop).filter(retired_at__isnull=True).with_newest_version().order_by("name", "pk")
    return [(str(row.newest_version), row.name) for row in rows if row.newest_version is not None]


def _look(visit: Visit, row: CompareRow, wanted: WantedForm) -> Compared | None:
    version, wanted_on = version_here(visit.workshop, row.version), wanted.cleaned_data["wanted_on"]
    bars = row.cleaned_data["bars"]
    try:
        found = plan_ahead(version=version, fats_g=row.fats_g, pour_on=row.pour_on, bars=bars, wanted_on=wanted_on, at=visit.at)
    except DomainError as error:
        add_to_form(row, error)
        return None
    return read_compared(visit, found, AskedPlan(version, row["fats_g"].value(), str(bars or ""), row.pour_on, wanted_on))
