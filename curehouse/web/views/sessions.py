"""Where a person is signed in: seen on their own page, and ended there."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from curehouse.common.errors import NotHere
from curehouse.web.access import Visit, for_members
from curehouse.web.once import once
from curehouse.web.reading.people import session_lines
from curehouse.web.reading.words import count
from curehouse.workshops.roles import Right
from curehouse.workshops.sessions import end_other_sessions, end_session


@never_cache
@require_safe
@for_members(needs=Right.SELF)
def sessions(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List where one is signed in."""
    return render(request, "web/people/sessions.html", {"sessions": session_lines(visit, request.session.session_key)})


@require_POST
@for_members(needs=Right.SELF)
def session_end(request: HttpRequest, visit: Visit) -> HttpResponse:
    """End one of one's sessions."""

    def work() -> str:
        ended = end_session(person=visit.member.user, mark=request.POST.get("session", ""), at=visit.at)
        if ended is None:
            raise NotHere("not_here", "You are not signed in there any more.")
        messages.success(request, f"Signed out there: {ended.from_device}.")
        return reverse("web:sessions")

    return once(request, visit, work)


@require_POST
@for_members(needs=Right.SELF)
def sessions_end(request: HttpRequest, visit: Visit) -> HttpResponse:
    """End all of one's sessions but this one."""

    def work() -> str:
        ended = end_other_sessions(person=visit.member.user, keep=request.session.session_key)
        messages.success(request, f"Signed out of {count(ended, 'other session')}.")
        return reverse("web:sessions")

    return once(request, visit, work)
