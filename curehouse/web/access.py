"""Whoever comes through a page's door: a signed-in member at work in one workshop, or nobody."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import Concatenate, ParamSpec

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from curehouse.flows.set_up import is_set_up
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Member, Workshop
from curehouse.workshops.roles import Right, rights_of_member
from curehouse.workshops.services.rights import refusal

P = ParamSpec("P")
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")


@dataclass(frozen=True, slots=True)
class Visit:
    """A member's visit to a page: who, where, and the one moment the request happens at."""

    actor: Actor
    member: Member
    at: datetime

    @property
    def workshop(self) -> Workshop:
        """Return the workshop the member is at work in."""
        return self.actor.workshop

    @property
    def rights(self) -> frozenset[Right]:
        """Return what the member may do."""
        return rights_of_member(self.member.role)

    def may(self, right: Right) -> bool:
        """Return whether the member may do something."""
        return right in self.rights


Page = Callable[Concatenate[HttpRequest, Visit, P], HttpResponse]


def for_members(
    *, needs: Right, to_write: Right | None = None
) -> Callable[[Page[P]], Callable[Concatenate[HttpRequest, P], HttpResponse]]:
    """Let only signed-in members who have the right see a page; hand it their :class:`Visit`.

    *needs* is asked of everybody, *to_write* besides of whoever sends something. It is asked before
    anything is looked up, so that a refusal says nothing of what is there.
    """

    def decorated(page: Page[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
        @wraps(page)
        def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if not request.user.is_authenticated:
                if not is_set_up():
                    return redirect("web:set_up")
                return redirect_to_login(request.get_full_path())
            member = Member.unscoped.at_work(request.user, request.session)
            if member is None:
                return render(request, "web/no_workshop.html", status=403)
            visit = Visit(actor=Actor(workshop=member.workshop, user=request.user), member=member, at=timezone.now())
            request.visit = visit
            wanted = needs if request.method in SAFE_METHODS else to_write or needs
            for right in (needs, wanted):
                if right not in visit.rights:
                    error = refusal(visit.member, right)
                    return render(request, "web/refused.html", {"error": error}, status=error.status)
            return page(request, visit, *args, **kwargs)

        guarded.guarded_by = (needs, to_write or needs)
        return guarded

    return decorated
