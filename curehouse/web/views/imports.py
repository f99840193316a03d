"""A spreadsheet comes in: chosen, its columns named, checked, brought in."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.tables import MOST_BYTES
from curehouse.common.tables.limits import too_large
from curehouse.common.upload_quota import takes_files, uploaded_too_much
from curehouse.flows.bring_in.door import GONE, check_as, lay_out, look_again, shown_tables
from curehouse.flows.bring_in.options import options_of
from curehouse.flows.bring_in.progress import how_far
from curehouse.intake.models import Import
from curehouse.intake.services import begin_bringing
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.imports import ColumnsForm, FileForm
from curehouse.web.once import once
from curehouse.web.reading.imports import imports_page, kind_label, mark_of_import, outcome_shown, still_words
from curehouse.web.walking import number_in
from curehouse.workshops.roles import Right

MOST_LOOKS = 600
_State = Import.State
_UNDER_WAY = (_State.CHECKING, _State.BRINGING)


def _import(visit: Visit, pk: int) -> Import:
    return Import.objects.within(visit.workshop).get_here(pk, what="import")


@takes_files(most_bytes=2 * MOST_BYTES)
@for_members(needs=Right.MAKE)
def imports(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List what was brought in; lay a file out."""
    too_much = uploaded_too_much(request) if request.method == "POST" else 0
    if too_much:
        raise too_large(too_much)
    form = FileForm(request.POST, request.FILES) if request.method == "POST" else FileForm()

    def work() -> str:
        values = form.cleaned_data
        laid = lay_out(actor=visit.actor, kind=values["kind"], given=values["file"], beside=values["beside"], at=visit.at)
        return reverse("web:import", args=[laid.pk])

    answer = done_once(request, visit, form, work)
    page, lines = imports_page(visit, request.GET.get("page"))
    return answer or render(request, "web/imports/imports.html", {"form": form, "imports": lines, "page": page})


@for_members(needs=Right.MAKE)
def import_(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show how far a file is; let it be checked as its columns are named."""
    brought = _import(visit, pk)
    context = {
        "brought": brought,
        "said": brought.said,
        "kind_label": kind_label(brought),
        "mark": mark_of_import(brought.state),
        "shown": outcome_shown(brought),
        "is_under_way": brought.state in _UNDER_WAY,
    }
    if brought.state in _UNDER_WAY:
        far = how_far(brought)
        context |= {"far": far, "still": still_words(visit, brought, far), "looks": 1, "look_again": True}
        return render(request, "web/imports/import.html", context)
    if brought.state == _State.BROUGHT:
        return render(request, "web/imports/import.html", context)
    form = _columns_form(request, brought)
    if isinstance(form, str):
        return render(request, "web/imports/import.html", {**context, "said": form})

    def work() -> str:
        read = look_again if form.opened_otherwise else check_as
        read(actor=visit.actor, brought=brought, options=form.options(), at=visit.at)
        return reverse("web:import", args=[brought.pk])

    return done_once(request, visit, form, work) or render(request, "web/imports/import.html", {**context, "form": form})


def _columns_form(request: HttpRequest, brought: Import) -> ColumnsForm | str:
    """Return the form of the file's columns, or why the file cannot be read any more."""
    try:
        tables = shown_tables(brought)
    except FileNotFoundError:
        return GONE
    except (Conflict, Invalid) as error:
        return error.message
    told = request.POST if request.method == "POST" else None
    return ColumnsForm(told, options=options_of(brought.options), tables=tables, has_batches=brought.kind == "batches")


@require_POST
@for_members(needs=Right.MAKE)
def import_bring(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Let what was checked come in."""
    brought = _import(visit, pk)

    def work() -> str:
        begin_bringing(brought=brought, at=visit.at)
        messages.info(request, f"{brought.name} is coming in.")
        return reverse("web:import", args=[brought.pk])

    return once(request, visit, work)


@require_safe
@for_members(needs=Right.MAKE)
def import_progress(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show how far a file is, for the page that waits for it."""
    brought = _import(visit, pk)
    looks = (number_in(request, "looks") or 0) + 1
    if brought.state not in _UNDER_WAY:
        if request.htmx:
            answer = HttpResponse()
            answer["HX-Refresh"] = "true"
            return answer
        return redirect("web:import", brought.pk)
    far = how_far(brought)
    still = still_words(visit, brought, far)
    context = {"brought": brought, "far": far, "still": still, "looks": looks, "look_again": looks < MOST_LOOKS}
    return render(request, "web/imports/_progress.html", context)
