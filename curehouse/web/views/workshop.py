"""The workshop's own pages: what it has chosen for itself."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from curehouse.flows.preferences import choose
from curehouse.flows.waiting_costs import waiting_costs
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.workshop import CheckRuleForm, PreferencesForm, ReadyRuleForm
from curehouse.web.next_page import next_page
from curehouse.web.reading.waiting_costs import reckoned_words
from curehouse.web.reading.workshop import house_words
from curehouse.workshops.roles import Right

_SAID = {
    PreferencesForm: "Preferences kept.",
    ReadyRuleForm: "Rule kept: it speaks from each batch's next weighing or the next morning on.",
    CheckRuleForm: "Your method and limit are kept.",
}
ChoiceForm = PreferencesForm | ReadyRuleForm | CheckRuleForm


@for_members(needs=Right.SEE)
def workshop(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show what can be chosen, and what is chosen now."""
    return render(request, "web/workshop/workshop.html", {"words": house_words(visit)})


def _chosen(request: HttpRequest, visit: Visit, make_form: type[ChoiceForm], template: str, **more: str) -> HttpResponse:
    form = make_form(request.POST or None, workshop=visit.workshop)

    def work() -> str:
        choose(workshop=visit.workshop, changes=form.changes(), at=visit.at)
        messages.success(request, _SAID[make_form])
        return next_page(request, otherwise=reverse("web:workshop"))

    return done_once(request, visit, form, work) or render(request, template, {"form": form, **more})


@for_members(needs=Right.KEEP_HOUSE)
def preferences(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Change name, units, time zone, currency, round days, morning, and what waiting and ordering cost."""
    waiting = waiting_costs(workshop=visit.workshop, at=visit.at)
    reckoned = reckoned_words(waiting, visit.workshop.currency)
    return _chosen(request, visit, PreferencesForm, "web/workshop/preferences.html", reckoned=reckoned)


@for_members(needs=Right.MAKE)
def ready_rule(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Change when a batch counts as dry enough or too soft."""
    return _chosen(request, visit, ReadyRuleForm, "web/workshop/ready_rule.html")


@for_members(needs=Right.MAKE)
def check_rule(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Write down the method and limit of the safety check."""
    return _chosen(request, visit, CheckRuleForm, "web/workshop/check_rule.html")
