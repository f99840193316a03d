"""Who works here: the owner invites, says what somebody is, and ends a place; everybody may leave."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.fields import HouseForm
from curehouse.web.forms.people import InviteForm, RoleForm
from curehouse.web.once import once
from curehouse.web.reading.people import invitation_lines, person_lines
from curehouse.workshops.models import Invitation, Member
from curehouse.workshops.roles import Right
from curehouse.workshops.services.invitations import invite, withdraw
from curehouse.workshops.services.people import change_role, leave, remove_member

_FORM_METHODS = ["GET", "HEAD", "POST"]


def _member(visit: Visit, pk: int) -> Member:
    return Member.objects.within(visit.workshop).select_related("user").get_here(pk, what="member")


@require_safe
@for_members(needs=Right.KEEP_HOUSE)
def people(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List who works here and who is invited."""
    page = {"people": person_lines(visit), "invitations": invitation_lines(visit)}
    return render(request, "web/people/people.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.KEEP_HOUSE)
def member(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say what a member is here."""
    row = _member(visit, pk)
    form = RoleForm(request.POST or None, initial={"role": row.role})

    def work() -> str:
        done = change_role(actor=visit.actor, member=row, role=form.cleaned_data["role"], at=visit.at)
        messages.success(request, f"{done.user.name} is {done.get_role_display()} here from now on.")
        return reverse("web:people")

    about = f"{row.user.name}, from {row.get_role_display()} to {request.POST.get('role', '')}"
    page = {"form": form, "row": row}
    return done_once(request, visit, form, work, about=about) or render(request, "web/people/member.html", page)


@require_POST
@for_members(needs=Right.KEEP_HOUSE)
def member_remove(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """End a member's place here."""
    row = _member(visit, pk)

    def work() -> str:
        remove_member(actor=visit.actor, member=row, at=visit.at)
        messages.success(request, f"{row.user.name} works here no more. What they wrote keeps their name.")
        return reverse("web:people")

    return once(request, visit, work, about=f"{row.user.name}, {row.get_role_display()}")


@never_cache
@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.KEEP_HOUSE)
def invite_somebody(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Make an invitation; its link is shown in the answer itself and kept nowhere, so a form sent twice shows it once."""
    form = InviteForm(request.POST or None)
    given: list[tuple[Invitation, str]] = []

    def work() -> str:
        given.append(invite(actor=visit.actor, at=visit.at, **form.cleaned_data))
        return reverse("web:people")

    about = ", ".join(text for text in (request.POST.get("role", ""), request.POST.get("email", "")) if text)
    answer = done_once(request, visit, form, work, about=about)
    if given:
        invitation, secret = given[0]
        link = request.build_absolute_uri(f"{reverse('web:join')}?invitation={secret}")
        return render(request, "web/people/invited.html", {"invitation": invitation, "link": link})
    return answer or render(request, "web/people/invite.html", {"form": form})


@require_POST
@for_members(needs=Right.KEEP_HOUSE)
def invitation_withdraw(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Let an invitation let nobody in."""
    invitation = Invitation.objects.within(visit.workshop).get_here(pk, what="invitation")

    def work() -> str:
        withdraw(actor=visit.actor, invitation=invitation, at=visit.at)
        messages.success(request, "The invitation is withdrawn: its link lets nobody in.")
        return reverse("web:people")

    return once(request, visit, work)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.SELF)
def leave_here(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Leave the workshop, once it was asked about."""
    form = HouseForm(request.POST if request.method == "POST" else None)

    def work() -> str:
        leave(actor=visit.actor, at=visit.at)
        return reverse("web:today")

    answer = done_once(request, visit, form, work, about=f"{visit.member.user.name}, {visit.member.get_role_display()}")
    return answer or render(request, "web/people/leave.html", {"form": form})
