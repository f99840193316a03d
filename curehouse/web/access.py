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

P = ParamSpec("P")


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


Page = Callable[Concatenate[HttpRequest, Visit, P], HttpResponse]


def for_members(page: Page[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
    """Let only signed-in members of a workshop see *page*; hand it their :class:`Visit`."""

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
        return page(request, visit, *args, **kwargs)

    guarded.for_members = True
    return guarded
