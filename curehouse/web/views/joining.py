"""Coming into a workshop by an invitation, and going from one's own to another.

The secret of an invitation stands in the link's query and nowhere else: the house writes down paths
only, the page's own requests name no page they come from, and the form sends it in its body.
"""

from dataclasses import replace
from datetime import datetime

from django.contrib import messages
from django.contrib.auth import login
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from curehouse.common.busy import waiting_headers
from curehouse.common.errors import DomainError, TooMany
from curehouse.flows.join import Newcomer, join, join_new
from curehouse.flows.set_up import WorkshopEntry, open_another
from curehouse.web.access import Visit, for_members
from curehouse.web.brake import address_of, give_all_back
from curehouse.web.deeds import note_in
from curehouse.web.errors import add_to_form
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.door import WorkshopForm
from curehouse.web.forms.people import JoinForm
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Invitation, Member, Workshop
from curehouse.workshops.queries import WORKSHOP_IN_SESSION
from curehouse.workshops.roles import Right, Role
from curehouse.workshops.services import brake
from curehouse.workshops.services.brake import Try
from curehouse.workshops.services.invitations import find_invitation

_FORM_METHODS = ["GET", "HEAD", "POST"]
# With the origin alone: it names no secret, and a form's origin can still be checked.
_REFERRER = "strict-origin"


@sensitive_post_parameters("password", "invitation")
@never_cache
@require_http_methods(_FORM_METHODS)
def join_here(request: HttpRequest) -> HttpResponse:
    """Show what an invitation is for; take whoever accepts it in. Looking changes nothing."""
    answer = _answer(request)
    answer.headers["Referrer-Policy"] = _REFERRER
    return answer


def _answer(request: HttpRequest) -> HttpResponse:
    at = timezone.now()
    secret = (request.POST if request.method == "POST" else request.GET).get("invitation", "")
    try:
        invitation = find_invitation(secret=secret, at=at)
    except DomainError as error:
        return render(request, "web/door/join_refused.html", {"error": error}, status=error.status)
    page = {"invitation": invitation, "a_role": Role(invitation.role).one, "secret": secret}
    if request.user.is_authenticated:
        return _known(request, invitation, page)
    form = JoinForm(request.POST or None, initial={"email": invitation.email})
    if request.method != "POST" or not form.is_valid():
        return render(request, "web/door/join.html", {**page, "form": form})
    try:
        return _new(request, invitation, form.newcomer(), at=at)
    except DomainError as error:
        add_to_form(form, error)
        braked = isinstance(error, TooMany)
        answer = render(request, "web/door/join.html", {**page, "form": form}, status=error.status if braked else 200)
        for name, value in waiting_headers(error).items():
            answer[name] = value
        return answer


def _new(request: HttpRequest, invitation: Invitation, newcomer: Newcomer, *, at: datetime) -> HttpResponse:
    """Take somebody new in. A refusal may tell that an address is somebody's here already, so these are counted."""
    tries = [Try(brake.ADDRESS, address_of(request)), Try(brake.INVITATION, str(invitation.pk))]
    for one in tries:
        brake.check(one, at=at)
    try:
        with transaction.atomic():
            answer = _come_in(request, join_new(invitation=invitation, newcomer=newcomer, at=at))
    except DomainError as error:
        if error.code != "email_taken":
            give_all_back(tries)
        raise
    give_all_back(tries)
    return answer


def _known(request: HttpRequest, invitation: Invitation, page: dict[str, object]) -> HttpResponse:
    """Take in somebody who is signed in, or say that they are in already."""
    is_in = Member.objects.within(invitation.workshop).of(request.user).exists()
    if request.method != "POST":
        return render(request, "web/door/join_known.html", {**page, "is_in": is_in})
    try:
        with transaction.atomic():
            member = join(invitation=invitation, person=request.user, at=timezone.now())
            return _come_in(request, member)
    except DomainError as error:
        return render(request, "web/door/join_refused.html", {"error": error}, status=error.status)


def _come_in(request: HttpRequest, member: Member) -> HttpResponse:
    if not request.user.is_authenticated:
        login(request, member.user)
    note_in(request, member.workshop, member.user, "join", at=member.joined_at, about=f"as {member.get_role_display()}")
    request.session[WORKSHOP_IN_SESSION] = member.workshop_id
    messages.success(request, f"Welcome to {member.workshop}: you are {Role(member.role).one} here.")
    return redirect("web:today")


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.SELF)
def workshops(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Choose the workshop one is at work in; the session remembers it."""
    places = list(Member.unscoped.of(request.user))
    if request.method == "POST":
        wanted = request.POST.get("workshop", "")
        chosen = next((place for place in places if str(place.workshop_id) == wanted), None)
        if chosen is not None:
            request.session[WORKSHOP_IN_SESSION] = chosen.workshop_id
            messages.success(request, f"You are at work in {chosen.workshop}.")
            return redirect("web:today")
        messages.error(request, "You do not work in that workshop: choose one from the list.")
    return render(request, "web/people/workshops.html", {"places": places, "here": visit.workshop.pk})


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.KEEP_HOUSE)
def workshop_new(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Open another workshop and be at work in it; its trail begins with that, and the one left says nothing of it."""
    here = visit.workshop
    form = WorkshopForm(
        request.POST or None,
        initial={
            "unit": here.unit,
            "time_zone": here.time_zone,
            "currency": here.currency,
            "round_days": [str(day) for day in here.round_days],
        },
    )
    opened: list[Workshop] = []

    def work() -> str:
        opened.append(open_another(actor=visit.actor, entry=WorkshopEntry(**form.beginning()), at=visit.at))
        request.session[WORKSHOP_IN_SESSION] = opened[0].pk
        messages.success(request, f"{opened[0]} is open, and you are at work in it.")
        return reverse("web:today")

    def there() -> Visit:
        return replace(visit, actor=Actor(workshop=opened[0], user=visit.member.user))

    answer = done_once(request, visit, form, work, about=request.POST.get("workshop_name", ""), where=there)
    return answer or render(request, "web/people/workshop_new.html", {"form": form})
